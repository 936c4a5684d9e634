"""Water taken against limits: rates, race capacity, use, verdicts."""
