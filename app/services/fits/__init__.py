"""Fits to gaugings and how a rating stands its tests; adopting a fit; the rating card."""
