"""A bout drawn: on a page, in the terminal; printed pages."""
