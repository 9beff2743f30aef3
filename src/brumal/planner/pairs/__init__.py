"""Candidate pairs: who may meet whom, what each pair brings, takes and counts for."""
