"""cuekit: play the rhythm of a locomotor skill, hear the feet, say what was heard."""

__version__ = "0.1.0"
