"""Levelling."""
