"""Fits."""
