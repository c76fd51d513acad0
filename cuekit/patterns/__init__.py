"""What the feet should do: patterns as exact fractions, their files, and a pattern laid out in time."""
