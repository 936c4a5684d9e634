"""Things made up to follow the recipes of DEVELOPERS.md with; no such device exists."""
