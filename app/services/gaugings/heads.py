"""The heads of a check gauging over the crest, and what the rating says at their mean."""

import math
from dataclasses import dataclass, field, replace
from datetime import datetime
from itertools import pairwise
from typing import Any

from app.errors import BadInput
from app.hydraulics.gauging.verdict import Gauging, HeadDuring, Verdict, mean_head, verdict
from app.records.sites import GaugeZero
from app.services.gaugings.work import asked

NOT_EITHER_WAY = "not proven either way"
TOLERANCE_PCT = 10.0  # open channels, a national metering regulation (read); editable a gauging


@dataclass(frozen=True, kw_only=True)
class RatingAtHead:
    """What the rating in force says at the mean head of a gauging; None where it says nothing."""

    rating_id: int | None = None
    gauge_zero_id: int | None = None
    discharge_m3s: float | None = None
    uncertainty_pct: float | None = None
    submergence_ratio: float | None = None
    flow: str = "not rated"
    flags: list[str] = field(default_factory=list)
    lacking: str = ""


def number_or_none(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def heads_of(
    body: dict[str, Any], zero: GaugeZero | None
) -> tuple[list[float], HeadDuring | None, str]:
    """Return the heads over the crest, their mean over time, and what is lacking for it."""
    read = body.get("heads") or []
    if not read:
        return [], None, "no staff reading was taken"
    if zero is None:
        return [], None, "no gauge zero was in force: the head over the crest is not known"
    heads = [one["staff_m"] + zero.offset_m for one in read]
    moments = [datetime.fromisoformat(one["at"]) for one in read]
    times = [(moment - moments[0]).total_seconds() for moment in moments]
    forward = all(later > sooner for sooner, later in pairwise(times))
    try:
        return heads, mean_head(heads, times if forward else None), ""
    except BadInput:
        return heads, None, "the head is not above the crest"


def tolerance_of(body: dict[str, Any]) -> float:
    """Return the tolerance to verify, %; the usual one when the figure typed is none."""
    try:
        typed = asked(body, "tolerance_pct")
    except BadInput:
        typed = None
    return typed if typed is not None and typed > 0.0 else TOLERANCE_PCT


def verdict_of(
    gauging: Gauging, head: HeadDuring | None, rating: RatingAtHead, body: dict[str, Any]
) -> Verdict:
    """Return what a gauging says of the rating; one of unknown uncertainty proves nothing."""
    if math.isnan(gauging.uncertainty_pct):
        rated = rating.discharge_m3s
        return Verdict(
            "not proven",
            rating.lacking or "the uncertainty of this discharge is unknown",
            100.0 * (gauging.discharge_m3s / rated - 1.0) if rated else math.nan,
            math.nan,
            tolerance_of(body),
            NOT_EITHER_WAY,
        )
    said = verdict(
        discharge_m3s=gauging.discharge_m3s,
        uncertainty_pct=gauging.uncertainty_pct,
        rating_m3s=rating.discharge_m3s,
        rating_uncertainty_pct=rating.uncertainty_pct,
        tolerance_pct=tolerance_of(body),
        indication_only=gauging.indication_only,
    )
    if rating.lacking:
        said = replace(said, reason=rating.lacking)
    elif head is not None and head.steady is False and not gauging.indication_only:
        reason = f"{head.word}; gauge again when it holds still"
        said = replace(said, word="not proven", reason=reason, tolerance_word=NOT_EITHER_WAY)
    return said
