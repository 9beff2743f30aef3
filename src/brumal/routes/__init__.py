"""Several seasons: crosses that lead to a target which one season cannot make."""
