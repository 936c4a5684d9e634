"""The long record in arrays: layers, sensing, faults, stretches, days, totals, limits."""
