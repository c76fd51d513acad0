"""Files: written whole or not at all, read small, named safely."""
