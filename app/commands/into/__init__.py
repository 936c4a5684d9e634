"""Verbs that take into the record what comes as a file."""
