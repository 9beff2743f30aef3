"""The plan carried out in many simulated seasons."""
