"""The family: graph, kinship, inbreeding, common ancestors and their paths."""
