"""What to try next: ladders, rules to go up or down, what helps, what to mind."""
