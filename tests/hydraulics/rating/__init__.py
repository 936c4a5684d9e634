"""Rating."""
