"""What is kept: learners, bouts, goals and lessons in one file on this computer."""
