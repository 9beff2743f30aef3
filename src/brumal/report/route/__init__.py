"""Routes over several seasons, told and drawn."""
