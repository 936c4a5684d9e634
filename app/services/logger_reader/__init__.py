"""The rooms behind `app.services.logger_file`, in the order a file passes through them.

text: bytes to lines. table: where time and readings stand. guesses, dates, numbers, columns and
roles: what each choice is and why. layout: all choices together. rows: lines to arrays, problems
by row and column. clock: stamps to UTC, resets. result: what is handed back, and its sentence.
"""
