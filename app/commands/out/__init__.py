"""Verbs that take what is on record out of the house."""
