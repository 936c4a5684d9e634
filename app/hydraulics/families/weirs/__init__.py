"""Solid weirs across a channel with upright walls, by total head; and the drowned orifice.

`solid` holds what the weirs share; `profiles` the three of them; `orifice` the opening in a wall.
"""
