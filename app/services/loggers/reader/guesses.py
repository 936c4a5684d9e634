"""One choice of the reader with its reason, and the check of an answer to it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.errors import BadInput
from app.services.loggers.reader.table import Table


@dataclass(frozen=True)
class Guess:
    """One choice: what was chosen, why, what else it could be; `ask` makes it a question."""

    key: str
    chosen: str
    why: str
    alternatives: tuple[str, ...] = ()
    ask: bool = False


def choice(answers: Mapping[str, Any], key: str, allowed: tuple[str, ...]) -> str | None:
    """Return an answer after checking that it is one of the choices, None without one.

    Raises
    ------
    BadInput
        If it is none of them.
    """
    value = answers.get(key)
    if value is None:
        return None
    if value not in allowed:
        raise BadInput(key, value, "is none of the choices", f"One of {', '.join(allowed)}.")
    return str(value)


def told_columns(table: Table, answers: Mapping[str, Any]) -> dict[int, Mapping[str, Any]]:
    given = answers.get("columns") or {}
    if not isinstance(given, Mapping):
        raise BadInput("row 1, column 1", given, "columns is a mapping", 'Such as {"2": {...}}.')
    told = {}
    timed = range(table.time_at, table.time_at + table.time_columns)
    for key, choice in given.items():
        text = str(key)
        index = int(text) - 1 if text.isascii() and text.isdigit() and len(text) < 5 else -1
        if not 0 <= index < table.fields or index in timed or not isinstance(choice, Mapping):
            raise BadInput(
                f"row {table.first_line + 1}, column {text}",
                choice,
                f"the file has {table.fields} columns, the time apart",
                "Say the columns again for this file.",
            )
        if isinstance(choice.get("name"), str) and choice["name"] != table.names[index]:
            raise BadInput(
                f"row {table.first_line + 1}, column {text}",
                table.names[index] or "no name",
                f"was called {choice['name'] or 'nothing'} when the columns were answered",
                "Say the columns again for this file.",
            )
        told[index] = choice
    return told
