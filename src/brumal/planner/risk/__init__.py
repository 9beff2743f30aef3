"""Bad seasons: sampled once, and the conditional value at risk of a plan in them."""
