"""Trade notation, read and written."""
