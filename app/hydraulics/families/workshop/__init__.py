"""What a workshop would build: sizes to try where a family has no list of its own."""
