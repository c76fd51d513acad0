"""Truth by construction: learners, feet and rooms made up, so that the answer is known."""
