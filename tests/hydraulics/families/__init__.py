"""Families."""
