"""The long record in blocks of a month: columns as arrays, and what many rows have in common once.

State, versions, flags and words are the same in long stretches of a record, so they are put into
words once for each combination; a row only says which one it has.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session

from app.hydraulics.base.arrays import Floats, Ints
from app.hydraulics.series.layers import How
from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.records.sensors import SERIES
from app.services.days.staleness import months_why
from app.services.days.state import DRAFT, states
from app.services.series import read as series_read
from app.services.series.raw import FAR_S

SERIES_FIGURES = ("raw_m", "head_m", "tailwater_m", "discharge_m3s", "uncertainty_pct")
CODES = ("flow", "flags", "how")


@dataclass(frozen=True, kw_only=True)
class Block:
    """A month of the derived series, or the asked part of it.

    `said` holds the cells of each combination that occurs, `which` the combination of each row.
    """

    t_s: Ints
    figures: dict[str, Floats]
    said: list[dict[str, Any]]
    which: Ints

    def values(self, key: str) -> list[Any]:
        """Return a cell of every combination, in their order."""
        return [one[key] for one in self.said]


def quality_word(how: int, flow: int, state: str, corrected: bool) -> str:
    """Return how good a value is, in a word (practice: open words, no number scheme)."""
    if how in (How.MISSING, How.SPIKE, How.NO_RECORD) or flow == Flow.NOT_RATED:
        return "missing"
    if flow == Flow.SUBMERGED_UNDETERMINED:
        return "not determined"
    if how == How.ESTIMATED:
        return "estimated"
    if state == DRAFT:
        return "unchecked"
    return "fair" if corrected or flow == Flow.SUBMERGED_CORRECTED else "good"


def blocks(
    session: Session, structure_id: int, from_s: int | None = None, to_s: int | None = None
) -> Iterator[Block]:
    """Yield the derived series month by month, both ends included, so that memory stays bounded."""
    from_s = -FAR_S if from_s is None else from_s
    to_s = FAR_S if to_s is None else to_s
    known = states(session, structure_id)
    stale = months_why(session, structure_id)
    held = SERIES.c
    months = (
        session.connection()
        .execute(
            sa.select(held.month, held.from_s, held.to_s, held.versions, held.engine)
            .where(held.structure_id == structure_id, held.to_s >= from_s, held.from_s <= to_s)
            .order_by(held.from_s)
        )
        .all()
    )
    for month, first_s, last_s, made, engine in months:
        found = series_read.load(
            session,
            structure_id,
            max(from_s, first_s),
            min(to_s, last_s),
            (*SERIES_FIGURES, *CODES),
        )
        if not found["t_s"].size:
            continue
        whole = {
            "state": known[month].state if month in known else DRAFT,
            "engine": engine,
            "stale": stale.get(month, ""),
        }
        yield _block(found, made, whole)


def _block(found: series_read.Arrays, made: dict[str, Any], whole: dict[str, str]) -> Block:
    t_s, parts, layers = found["t_s"], made["stretches"], made["layers"]
    part = np.searchsorted([one[0] for one in parts], t_s, "right") - 1
    codes = [found[name].astype(np.int64) for name in CODES]
    codes.append(np.maximum(part, 0))
    codes += [((t_s >= begin) & (t_s <= end)).astype(np.int64) for _, begin, end in layers]
    which = np.zeros(t_s.size, np.int64)
    for code in codes:  # folded one by one, so that no product of them grows out of an integer
        _, place = np.unique(code, return_inverse=True)
        _, which = np.unique(which * (int(place.max()) + 1) + place, return_inverse=True)
    _, first = np.unique(which, return_index=True)
    said = []
    for row in first.tolist():
        flow, flags, how, at, *inside = (int(code[row]) for code in codes)
        cited = [key for (key, _, _), yes in zip(layers, inside, strict=True) if yes]
        said.append(
            {
                "flow": Flow(flow).word,
                "flags": flag_words(Flag(flags)) if flags else [],
                "how": How(how).word,
                "quality_word": quality_word(how, flow, whole["state"], bool(cited)),
                "state": whole["state"],
                "rating_id": parts[at][2],
                "gauge_zero_id": parts[at][3],
                "layer_ids": cited,
                "engine": whole["engine"],
                "stale": whole["stale"],
            }
        )
    figures = {name: found[name].astype(np.float64) for name in SERIES_FIGURES}
    return Block(t_s=t_s.astype(np.int64), figures=figures, said=said, which=which)
