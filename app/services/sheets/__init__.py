"""Paper: what is on record, and what is to be filled in by hand, as sheets that print."""
