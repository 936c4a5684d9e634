"""Surveys."""
