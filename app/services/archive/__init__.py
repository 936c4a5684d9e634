"""The whole archive: everything on record in one file, and out of it again into an empty database.

`contents` says which tables go in and which do not, with the reason; `rows` writes and reads one
row; `lists` and `words` are for people; `zipped` writes the file, `out` fills it from one snapshot;
`check` reads it and refuses with the place; `take_in` stores it, `compare` works the derived rows
out anew beside what was carried.
"""
