"""What the office sets for everybody: which settings there are, what holds, who set it and why."""
