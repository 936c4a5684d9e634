"""The rooms behind `app.services.logger_file`, in the order a file passes through them.

text: bytes to lines. marks: letters around the clock. places, table, header, unreadable: where
time and readings stand, and what is said of them. units, numbers, dates, columns, sources and
roles: what each choice is and why. layout: all choices together. rows, left_out: lines to arrays,
problems by row and column. clock, strays: stamps to UTC, resets, late marks of missing readings.
result: what is handed back, and its sentence.
"""
