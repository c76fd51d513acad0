"""The reliability goals R1 to R20, each measured; `python -m tests.reliability` prints them all."""
