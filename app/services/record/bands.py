"""What lies behind the series of a view as strips of time, each with its word.

States of months with who put them there, how the record came about, corrections that hold, faults
found, and what the flows are flagged with.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from sqlmodel import Session

from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.envelopes import Envelope
from app.hydraulics.series.layers import Shape
from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.services.days import daily
from app.services.days.state import DRAFT, states
from app.services.record.kinds import CORRECTION, Mark
from app.services.series import faults as series_faults
from app.services.series import read as series_read
from app.services.series.flow import inputs_of
from app.services.series.months import day_begins_s, day_of, month_begins_s
from app.services.sites.changes import names_of

PERIODS = (Shape.SPIKE, Shape.ESTIMATED, Shape.NO_RECORD)
POINTS_S = 32 * DAY_S  # up to this long flags are shown by reading, beyond by day
MOST_RUNS = 150
LOOK_CLOSER = "flagged; look closer to see with what"
SAID_ALREADY = (Flow.FREE, Flow.ASSUMED_FREE, Flow.NO_FLOW)  # the usual words are no flags
Band = dict[str, Any]


def bands(
    session: Session,
    structure_id: int,
    begin: int,
    end: int,
    *,
    view: Envelope | None,
    marks: Sequence[Mark],
) -> list[Band]:
    """Return the strips of a view, by time; `href` is the page that one opens, if it has one.

    `view` is the logger's series, None without one: between readings on staff nothing is missing.
    """
    out: list[Band] = []

    def band(a: int, b: int, kind: str, word: str, said: str = "", href: str = "") -> None:
        if b >= begin and a <= end:
            out.append(
                {
                    "from_s": max(a, begin),
                    "to_s": min(b, end),
                    "kind": kind,
                    "word": word,
                    "said": said or word,
                    "href": href,
                }
            )

    inputs, names = inputs_of(session, structure_id), names_of(session)
    for month, row in sorted(states(session, structure_id).items()):
        if row.state != DRAFT:
            a = month_begins_s(month, inputs.offset_min)
            b = month_begins_s(month + 1, inputs.offset_min)
            by = names.get(row.by_id, "unknown")
            band(a, b, "state", row.state, f"{row.state} by {by} on {row.at:%Y-%m-%d}")
    for layer in inputs.layers_of("head"):
        if Shape(layer.shape) in PERIODS:
            band(layer.from_s, layer.to_s, "how", layer.shape)
    for fault in series_faults.found(session, inputs):
        if fault.kind != "gap":
            band(fault.from_s, fault.to_s, "fault", fault.kind)
    for a, b in _gaps(view) if view else ():
        band(a, b, "how", "gap")
    for mark in marks:
        if mark.kind == CORRECTION:
            band(mark.from_s, mark.to_s, "correction", mark.title, mark.words, mark.href)
    for a, b, word in _flagged(session, structure_id, begin, end, inputs.offset_min):
        band(a, b, "flag", word)
    return sorted(out, key=lambda one: (one["from_s"], one["kind"]))


def _gaps(view: Envelope) -> list[tuple[int, int]]:
    """Return the stretches over which the line is not drawn."""
    at = np.flatnonzero(view.gap_before[1:]) + 1
    return list(zip(view.to_s[at - 1].tolist(), view.from_s[at].tolist(), strict=True))


def _words(flows: Sequence[Flow], flags: int) -> str:
    said = [flow.word for flow in flows if flow not in SAID_ALREADY]
    return "; ".join([*said, *(flag_words(Flag(flags)) if flags else [])])


def _flagged(
    session: Session, structure_id: int, begin: int, end: int, offset_min: int
) -> list[tuple[int, int, str]]:
    """Return stretches of one flow word and the same flags, where there is one to tell."""
    if end - begin <= POINTS_S:
        found = series_read.load(session, structure_id, begin, end, ("flow", "flags"))
        pairs = np.stack([found["flow"].astype(np.int64), found["flags"].astype(np.int64)])
        edges = np.flatnonzero(np.any(np.diff(pairs, axis=1) != 0, axis=0)) + 1
        bounds = [0, *edges.tolist(), found["t_s"].size] if found["t_s"].size else [0]
        runs = [
            (
                int(found["t_s"][a]),
                int(found["t_s"][b - 1]),
                _words([Flow(int(pairs[0, a]))], int(pairs[1, a])),
            )
            for a, b in pairwise(bounds)
        ]
        return _few([run for run in runs if run[2]], 0)
    days = daily.rows_of(session, structure_id, day_of(begin, offset_min), day_of(end, offset_min))
    runs = [
        (
            day_begins_s(row.day, offset_min),
            day_begins_s(row.day + 1, offset_min),
            _words([flow for flow in Flow if row.flows >> int(flow) & 1], row.flags),
        )
        for row in days
    ]
    return _few([run for run in runs if run[2]], 0)


def _few(runs: list[tuple[int, int, str]], apart_s: int) -> list[tuple[int, int, str]]:
    """Return runs with touching ones of the same words as one; too many only say that they are."""
    joined = _joined(runs, apart_s)
    if len(joined) > MOST_RUNS:
        joined = _joined([(a, b, LOOK_CLOSER) for a, b, _ in runs], apart_s)
    if len(joined) > MOST_RUNS:
        wide = (joined[-1][1] - joined[0][0]) // MOST_RUNS
        joined = _joined(joined, wide)
    return joined


def _joined(runs: list[tuple[int, int, str]], apart_s: int) -> list[tuple[int, int, str]]:
    out: list[tuple[int, int, str]] = []
    for a, b, word in runs:
        if out and out[-1][2] == word and a - out[-1][1] <= apart_s:
            out[-1] = (out[-1][0], b, word)
        else:
            out.append((a, b, word))
    return out
