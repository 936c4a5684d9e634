"""Channel."""
