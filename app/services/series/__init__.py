"""The long record point by point: raw blocks, flows, faults, what is read back."""
