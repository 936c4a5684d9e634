"""What every equation stands on: units, arrays, figures, findings, Student's t."""
