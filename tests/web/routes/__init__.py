"""Routes."""
