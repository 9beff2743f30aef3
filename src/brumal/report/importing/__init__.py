"""What an import understood, on the terminal and as a page."""
