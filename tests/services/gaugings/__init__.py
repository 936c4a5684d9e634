"""Gaugings."""
