"""Takes."""
