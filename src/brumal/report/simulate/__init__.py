"""Reports of `brumal simulate`."""
