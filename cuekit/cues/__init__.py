"""What is played: tones, words and glides, placed on the cue to the sample and kept quiet."""
