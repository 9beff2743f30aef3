"""Reports of `brumal compare`."""
