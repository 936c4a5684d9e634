"""What people type and read, as values and as words; a floor under the services."""
