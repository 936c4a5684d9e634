"""Phone and server asked the same: hypothesis draws the question, both answer, no file between."""
