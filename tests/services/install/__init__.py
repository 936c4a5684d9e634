"""Install."""
