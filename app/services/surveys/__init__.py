"""Level runs and photos: results, trends, the zeros they set."""
