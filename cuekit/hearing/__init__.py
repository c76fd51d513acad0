"""What the microphone gives: sound files that nobody vouches for, and the footfalls heard in them."""
