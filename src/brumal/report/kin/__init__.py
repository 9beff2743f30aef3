"""Reports of `brumal kin`."""
