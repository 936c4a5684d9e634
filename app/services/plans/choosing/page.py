"""The answer as the office's page shows it: sorted, worked out once for page, lists and plans."""

from collections.abc import Callable
from functools import lru_cache
from typing import Any

from app.errors import BadInput
from app.services.plans.choosing.answer import choose
from app.services.plans.choosing.question import Question

KEPT = 16
PICTURED = 3


def _or_last(key: str, sign: float = 1.0) -> Callable[[dict[str, Any]], tuple[bool, float]]:
    """Return what sorts by a figure; what has none stands last."""

    def by(row: dict[str, Any]) -> tuple[bool, float]:
        value = row.get(key)
        return value is None, 0.0 if value is None else sign * float(value)

    return by


SORTS: dict[str, tuple[str, Callable[[dict[str, Any]], Any]]] = {
    "rank": ("Rank", lambda row: row["rank"]),
    "structure": ("Structure", lambda row: (row["described"], row["rank"])),
    "head": ("Head", _or_last("head_least_m", -1.0)),
    "crest": ("Crest", _or_last("crest_m")),
    "submergence": ("Submergence", _or_last("submergence_ratio")),
    "rise": ("Rise", _or_last("rise_m")),
    "freeboard": ("Freeboard", _or_last("freeboard_m", -1.0)),
    "uncertainty": ("Uncertainty", _or_last("uncertainty_worst_pct")),
    "weight": ("Weight", _or_last("weight_kg")),
}


@lru_cache(maxsize=KEPT)
def answered(asked: Question) -> dict[str, Any]:
    """Return the answer to a question; nobody changes it."""
    return choose(asked)


def rows_by(asked: Question, order: str) -> list[dict[str, Any]]:
    """Return the rows in an order of SORTS; by rank where it is none of them."""
    _, key = SORTS.get(order, SORTS["rank"])
    return sorted(answered(asked)["rows"], key=key)


def best(asked: Question) -> list[dict[str, Any]]:
    """Return the best rows that can be pictured; none that does not suit."""
    return [row for row in answered(asked)["rows"] if row["suits"] and "flows" in row][:PICTURED]


def row_of(asked: Question, rank: str) -> dict[str, Any]:
    """Return the row of a rank; raises BadInput."""
    for row in answered(asked)["rows"]:
        if str(row["rank"]) == rank:
            found: dict[str, Any] = row
            return found
    raise BadInput("rank", rank, "is no rank of the list", "Choose a structure from the list.")
