"""Loggers."""
