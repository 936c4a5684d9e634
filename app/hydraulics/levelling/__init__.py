"""Level runs: the book, its reduction, what a run finds, benchmarks."""
