"""Fits to gaugings and tests of ratings; adopting a fit; the rating card."""
