"""Rate again: look and act over readings, record, months and takes."""
