"""A history as columns for a chart: readings as marks, an envelope where there are many."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.series import envelopes
from app.hydraulics.series.stretches import closed
from app.hydraulics.structure.device import Flow
from app.language import words
from app.services.readings.history import History, figures, seconds

POINTS = 1200  # as many marks as a wide screen can tell apart; the envelope keeps the rest
BUCKETS = 900


def chart(found: History) -> dict[str, Any]:
    """Return columns for a chart: an envelope of head and discharge, and the readings as marks.

    Where there are more readings than marks can be told apart, each bucket of time keeps its
    lowest, its highest, its first of every flow word and its first flagged one, so that no peak
    and no kind of reading disappears; the envelope keeps the extremes in any case.
    """
    rows = found.rows
    t_s = seconds(rows)
    answer: dict[str, Any] = {
        "utc_offset_min": found.site.utc_offset_min,
        "from_s": int(found.span.since.timestamp()) if found.span.since else None,
        "to_s": int(found.span.until.timestamp()) if found.span.until else None,
    }
    for name, key in (("discharge", "discharge_m3s"), ("head", "head_m")):
        how = np.zeros(t_s.size, np.int8)
        if name == "discharge":
            how = closed(how, figures(rows, "head_m"), figures(rows, key))
        answer[name] = envelopes.columns(envelopes.thin(t_s, figures(rows, key), BUCKETS, how=how))
    marked = [rows[k] for k in marks_kept(rows, t_s)]
    answer["marks"] = {
        "t": [int(r["observed_at"].timestamp()) for r in marked],
        "when": [words.site_time(r["observed_at"], found.site.utc_offset_min) for r in marked],
        "id": [r["id"] for r in marked],
        "head_m": [r["head_m"] for r in marked],
        "discharge_m3s": [r["discharge_m3s"] for r in marked],
        "uncertainty_pct": [r["uncertainty_pct"] for r in marked],
        "shown": [
            words.discharge(r["discharge_m3s"], r["uncertainty_pct"])
            if r["discharge_m3s"] is not None
            else "discharge not determined"
            for r in marked
        ],
        "head_shown": [words.millimetres(r["head_m"]) for r in marked],
        "flow_code": [r["flow_code"] for r in marked],
        "flow": [r["flow"] for r in marked],
        "flags": ["; ".join(r["flags"]) for r in marked],
        "all": len(marked) == len(rows),
    }
    return answer


def marks_kept(rows: Sequence[dict[str, Any]], t_s: NDArray[np.int64]) -> list[int]:
    """Return which readings keep a mark of their own, in order."""
    if len(rows) <= POINTS:
        return list(range(len(rows)))
    width = max(1, math.ceil((int(t_s[-1]) - int(t_s[0]) + 1) / (POINTS // 4)))
    bucket = (t_s - t_s[0]) // width
    flow = figures(rows, "discharge_m3s")
    code = np.array([r["flow_code"] for r in rows])
    flagged = np.array([bool(r["flags"]) for r in rows])
    kept: set[int] = set()
    for order in (np.where(np.isnan(flow), np.inf, flow), np.where(np.isnan(flow), np.inf, -flow)):
        by_bucket = np.lexsort((order, bucket))
        kept.update(by_bucket[np.unique(bucket[by_bucket], return_index=True)[1]].tolist())
    for key in (bucket * len(Flow) + code, np.where(flagged, bucket, -1)):
        kept.update(np.unique(key, return_index=True)[1].tolist())
    return sorted(kept)
