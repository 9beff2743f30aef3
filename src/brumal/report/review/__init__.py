"""A season looked back on, for people."""
