"""The whole archive."""
