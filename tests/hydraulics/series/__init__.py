"""Series."""
