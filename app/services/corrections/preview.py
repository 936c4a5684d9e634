"""What a correction would do, before it is stored: the chart before and after, and the volume."""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series import daily as series
from app.hydraulics.series import envelopes
from app.hydraulics.series.stretches import gap_rule_s
from app.language import words
from app.language.forms import Form
from app.records.people import Person
from app.services.corrections import layers as corrections
from app.services.corrections.amounts import amount_words
from app.services.days.cited import span_of
from app.services.days.state import refuse_if_approved
from app.services.series.flow import Flows, flows, inputs_of

COLUMNS = 900
LONGEST_S = 3 * 366 * DAY_S  # more than that is shown in part, to bound the memory


@dataclass(frozen=True, kw_only=True)
class LayerPreview:
    """A correction looked at: head before and after, changes, and what stands in the way."""

    before: dict[str, Any]
    after: dict[str, Any]
    from_s: int
    to_s: int
    points: int
    mean_change_m: float | None
    largest_change_m: float | None
    volume_before_m3: float | None
    volume_after_m3: float | None
    words: str
    blocked: BadInput | None


def preview_layer(
    session: Session, structure_id: int, form: Form, person: Person, now: datetime
) -> LayerPreview:
    """Return what a correction from a form would change; writes nothing.

    Raises
    ------
    BadInput
        For the first field that breaks a rule.
    """
    row = corrections.row_of(session, structure_id, form, person, now)
    inputs = inputs_of(session, structure_id)
    begin, end = span_of(row)
    margin = max(DAY_S, (end - begin) // 10)
    a, b = begin - margin, min(end, begin + LONGEST_S) + margin
    before = flows(session, inputs, a, b)
    after = flows(session, inputs.with_layers([*inputs.layers, row]), a, b)
    blocked = None
    try:
        refuse_if_approved(session, structure_id, begin, end, "this correction")
    except BadInput as error:
        blocked = error
    shared, i, j = np.intersect1d(before.t_s, after.t_s, return_indices=True)
    change = after.head_m[j] - before.head_m[i]
    inside = np.isfinite(change) & (shared >= begin) & (shared <= end)
    change = change[inside]
    largest = float(change[np.argmax(np.abs(change))]) if change.size else None
    volumes = [_volume(part) for part in (before, after)]
    readings = int(np.count_nonzero((before.t_s >= begin) & (before.t_s <= end)))
    said = f"{amount_words(row, inputs.site.head_unit)}; {readings} readings; "
    said += "" if largest is None else f"largest change of head {words.millimetres(largest)}; "
    if None not in volumes:
        said += f"volume of the view {volumes[0]:.0f} m³ before, {volumes[1]:.0f} m³ after"
    return LayerPreview(
        before=_columns(before, a, b),
        after=_columns(after, a, b),
        from_s=a,
        to_s=b,
        points=readings,
        mean_change_m=float(np.mean(change)) if change.size else None,
        largest_change_m=largest,
        volume_before_m3=volumes[0],
        volume_after_m3=volumes[1],
        words=said.removesuffix("; "),
        blocked=blocked,
    )


def _columns(part: Flows, a: int, b: int) -> dict[str, Any]:
    rule = gap_rule_s(part.t_s)
    return envelopes.columns(
        envelopes.thin(part.t_s, part.head_m, COLUMNS, gap_s=rule, how=part.how, from_s=a, to_s=b)
    )


def _volume(part: Flows) -> float | None:
    rule = gap_rule_s(part.t_s)
    total = series.total_volume_m3(part.t_s, part.discharge_m3s, how=part.how_flow, gap_s=rule)
    return None if total != total else total
