"""A season looked back on."""
