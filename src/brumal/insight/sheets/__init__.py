"""One pair or one animal, told whole."""
