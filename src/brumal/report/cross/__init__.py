"""Reports of `brumal cross`."""
