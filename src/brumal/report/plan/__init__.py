"""Reports of `brumal plan`."""
