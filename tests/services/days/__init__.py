"""Days."""
