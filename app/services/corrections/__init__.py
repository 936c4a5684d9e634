"""Layers over the raw record: added, previewed, offered, withdrawn."""
