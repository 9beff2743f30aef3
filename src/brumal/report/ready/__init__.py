"""Reports of `brumal ready`."""
