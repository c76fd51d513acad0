"""Which footfall is which, and the numbers of a bout. No opinion, no sound."""
