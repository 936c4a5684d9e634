"""The old paper: past readings copied from a book or a spreadsheet, row by row.

A sheet is checked (`check`), held against the record and rated (`preview`), taken in on the road
of every entry (`take_in`), and undone as a whole (`batches`).
"""
