"""Days, totals and months made from the series; what they cite, and whether that still holds."""
