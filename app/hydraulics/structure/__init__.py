"""The contract of a measuring structure: what it says of itself, its dimensions, states, outline.

A family fills it in; rating, forms and exports read nothing else.
"""
