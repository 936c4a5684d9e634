"""Builders."""
