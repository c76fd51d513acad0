"""A bout as it happens: cue and microphone on one clock, and what became of it."""
