"""Visits: planned, due, done.

`plans` how often, `due` when the next one is due, `due_list` of all sites; `view` one visit, `done`
the visits with what lies within them; `round_sheet` the paper for a round; `tables`, `page`.
"""
