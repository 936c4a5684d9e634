"""Field entries of every kind.

standing: the one rule for which of them count, for the office and (by vectors) the phone.
links: the links it rests on, as stored.
"""
