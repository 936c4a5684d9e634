"""Vectors."""
