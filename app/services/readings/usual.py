"""The heads that a structure usually shows: what a figure typed on the phone is held against."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, col

from app.hydraulics.structure.device import Flag
from app.records.flows import FlowValue

LOOK_BACK = timedelta(days=400)
LEAST_READINGS = 6
"""Fewer tell no range; then the phone takes the rating's own."""
SHARES = (5.0, 95.0)
"""The middle nine tenths, so that one wrong reading moves nothing; common practice."""
BELOW, ABOVE = 0.5, 1.5
"""How far beyond these shares a head passes unasked."""
DOUBTED = int(Flag.UNUSUAL_HEAD | Flag.HEAD_BELOW_ZERO)


def usual_heads(
    session: Session, structure_ids: Sequence[int], now: datetime
) -> dict[int, tuple[float, float]]:
    """Return the usual range of heads, m over the crest, by structure; those with a record only."""
    query = sa.select(
        col(FlowValue.structure_id), col(FlowValue.head_m), col(FlowValue.flags)
    ).where(
        col(FlowValue.structure_id).in_(structure_ids),
        col(FlowValue.current),
        col(FlowValue.head_m).is_not(None),
        col(FlowValue.at) > now - LOOK_BACK,
    )
    heads: dict[int, list[float]] = defaultdict(list)
    for structure_id, head_m, flags in session.execute(query):
        if not flags & DOUBTED:
            heads[structure_id].append(head_m)
    found = {}
    for structure_id, values in heads.items():
        if len(values) >= LEAST_READINGS:
            low, high = np.percentile(values, SHARES)
            found[structure_id] = (round(BELOW * max(low, 0.0), 3), round(ABOVE * high, 3))
    return found
