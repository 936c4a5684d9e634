"""A logger file understood: layout, columns, rows; it asks where the file does not say."""
