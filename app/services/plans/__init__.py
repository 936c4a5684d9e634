"""Plans of a structure: inputs, candidates worked out, checks, drawing, page."""
