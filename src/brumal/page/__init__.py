"""The planning page: a season tried by hand, served on the keeper's own machine."""
