"""Which structure for a race: the question, what is tried, verdicts, the answer ranked."""
