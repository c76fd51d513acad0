"""What is printed: the family page, the team page, paper for a lesson."""
