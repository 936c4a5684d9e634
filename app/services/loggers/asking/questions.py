"""The questions of a logger file that have an answer: they stay in view, with what was said.

The reader asks only what is open, so a question is gone once it is answered. Here each answer is
left out in turn and the reader looks again: what it then asks is the question of that answer.
This needs no list of the reader's questions, and reads the sample lines only.
"""

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from app.errors import BadInput
from app.services.loggers.asking.answers import COLUMN
from app.services.loggers.choose import Choice
from app.services.loggers.reader.cells.text import encoding_of, sample_lines
from app.services.loggers.reader.guesses import Guess
from app.services.loggers.reader.layout import lay_out
from app.services.loggers.reader.table import find_table

# answers that are still seen among the reader's guesses once they are given
STAY = {"delimiter", "decimal", "date_order", "time_zone", "missing"}
NO_QUESTION = {"assumed_air_c", "accept_dates", "restart_at"}
HEAD_IS = ("columns", "head_column")
UNIT_OF = "unit of column "


@dataclass(frozen=True)
class Answered:
    """A question as it would be asked, the answer to it, and whether a file before gave it."""

    guess: Guess
    value: object
    before: bool


def answered(content: bytes, choice: Choice) -> list[Answered]:
    """Return the questions that were answered, now or for this logger before."""
    told, file = choice.told, choice.file
    if not told:
        return []
    raw = io.BytesIO(content)
    encoding = encoding_of(raw)
    head, further = sample_lines(raw, encoding)
    still = {guess.key for guess in file.guesses if guess.ask}
    found: dict[str, Answered] = {}
    for path, less, value in _each_left_out(told):
        try:
            guesses = lay_out(find_table(head, further, less), encoding, less).guesses
        except BadInput:
            continue  # without this answer the file cannot be read at all
        which = [g for g in guesses if g.ask and g.key in HEAD_IS and COLUMN.match(g.chosen)]
        for guess in which or guesses:  # what hangs on the column is no answer to which it is
            other_unit = guess.key.startswith(UNIT_OF) and path[-1] != "unit"
            if not guess.ask or guess.key in still | set(found) or other_unit:
                continue
            at, answer = path, value
            if column := COLUMN.fullmatch(guess.key):
                at = ("columns", column[1], "meaning")
                if not _holds(told, at):
                    continue  # its unit has answered what it measures
                answer = told["columns"][column[1]]["meaning"]
            found[guess.key] = Answered(guess, answer, before=not _holds(choice.given, at))
    return list(found.values())


def _each_left_out(
    told: Mapping[str, Any],
) -> Iterator[tuple[tuple[str, ...], dict[str, Any], object]]:
    """Yield where an answer stands, all the others, and the answer itself."""
    for key, value in told.items():
        if key in STAY or key in NO_QUESTION:
            continue
        if key == "head_column":  # asked where no column is said to give the head
            yield (key,), {k: v for k, v in told.items() if k not in HEAD_IS}, f"column {value}"
            continue
        if key != "columns" or not isinstance(value, Mapping):
            yield (key,), {k: v for k, v in told.items() if k != key}, value
            continue
        for number, said in value.items():
            others = {k: v for k, v in value.items() if k != number}
            if "unit" in said:
                rest = {k: v for k, v in said.items() if k != "unit"}
                less = {
                    **told,
                    "columns": {**others, number: rest} if "meaning" in rest else others,
                }
                yield (key, number, "unit"), less, said["unit"]
            yield (key, number), {**told, "columns": others}, f"column {number}"


def _holds(answers: Mapping[str, Any], path: tuple[str, ...]) -> bool:
    found: Any = answers
    for key in path:
        if not isinstance(found, Mapping) or key not in found:
            return False
        found = found[key]
    return True
