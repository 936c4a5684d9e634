"""Check gaugings: velocity-area, dilution, floats, steadiness, and the verdict on a rating."""
