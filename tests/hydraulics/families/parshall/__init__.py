"""Parshall."""
