"""The first page: what needs a person, and every site at a glance.

`sources` is the one list of what may need a person (`rounds` its visits and instruments); each
source leads to the list that it counts.
`board` reads every site in bulk, `find` searches, filters and sorts it.
"""
