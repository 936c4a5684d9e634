"""What is taken out of the record."""
