"""Visits: when one is due, what was done at one, the sheet for a round."""
