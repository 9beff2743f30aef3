"""Why each female rests or is paired as she is, and what limits are worth."""
