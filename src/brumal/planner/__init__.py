"""Candidate pairs, the model, the solve, the plan."""
