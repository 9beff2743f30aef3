"""What each animal may be, given looks, parents and clutches."""
