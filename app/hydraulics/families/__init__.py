"""Every family of structures: one file (or folder) each, and one line in `registry`."""
