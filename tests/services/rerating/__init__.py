"""Rerating."""
