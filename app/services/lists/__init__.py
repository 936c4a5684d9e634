"""Lists of pages that cross rooms, for .csv and .json."""
