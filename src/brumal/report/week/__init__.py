"""Reports of `brumal week`."""
