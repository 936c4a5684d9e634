"""Gauging."""
