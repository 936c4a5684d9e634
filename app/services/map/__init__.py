"""The map of sites: where they lie on a plain grid, and the race as lines of one's own."""
