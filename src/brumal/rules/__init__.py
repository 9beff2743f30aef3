"""May this animal breed, may these two meet: each rule with its verdict and figures."""
