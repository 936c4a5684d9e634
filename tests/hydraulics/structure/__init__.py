"""Structure."""
