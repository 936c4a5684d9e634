"""Parshall flumes: the device, its sizes, its outline."""
