"""Corrections."""
