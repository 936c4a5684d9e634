"""One choice of the reader with its reason, and the check of an answer to it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from app.errors import BadInput


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
