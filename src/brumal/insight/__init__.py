"""Why: sit-outs, runners-up, shadow prices, simulated seasons, scenarios."""
