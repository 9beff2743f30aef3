"""What genes there are: the catalogue, its file, its check and its page."""
