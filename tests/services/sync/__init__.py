"""Sync."""
