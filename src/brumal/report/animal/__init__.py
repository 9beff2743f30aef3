"""Reports of `brumal animal`."""
