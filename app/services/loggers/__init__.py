"""Logger files: read, asked about, taken in, overlapped, undone, listed."""
