"""Reports of `brumal why`."""
