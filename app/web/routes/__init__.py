"""One file of routes a room."""
