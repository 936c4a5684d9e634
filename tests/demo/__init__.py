"""Demo."""
