"""Single cells: times, dates, numbers, marks, units."""
