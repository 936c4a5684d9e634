"""Corrections that the visits suggest, as offers: a person decides, none is applied by itself.

Two kinds: the sensor left the staff between two visits, or weed and the like lifted the water
itself until somebody cleaned.
"""

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, col

from app.hydraulics.base.findings import Fault
from app.hydraulics.series.layers import Layer, Shape
from app.hydraulics.series.sensor_checks import Band, acceptance, offer_layers
from app.hydraulics.structure.device import Flow
from app.language import forms, words
from app.records.sensors import CorrectionLayer, FoundFault, LayerWithdrawal
from app.services.corrections.decisions import newest
from app.services.corrections.visits import Seen, seen_by, visit_checks
from app.services.series import faults as series_faults
from app.services.series.flow import Inputs, inputs_of
from app.services.series.months import instant
from app.services.settings.in_force import bands
from app.services.sites.dated import device_of

WEED_M = 0.005  # common practice: a smaller fall of the head on cleaning is within the readings


@dataclass(frozen=True, kw_only=True)
class OfferLine:
    """A correction that two checks suggest; `form` is what `corrections.add_layer` takes."""

    key: str
    kind: str
    from_at: datetime
    to_at: datetime
    from_s: int
    to_s: int
    shape: str
    amount_m: float | None
    amount_end_m: float | None
    band: str
    action: str
    why: str
    form: dict[str, str] | None
    alternatives: list[tuple[str, dict[str, str]]]
    state: str


def offers(session: Session, structure_id: int, seen: list[Seen] | None = None) -> list[OfferLine]:
    """Return what the visits suggest, oldest first, with what was decided about each."""
    inputs = inputs_of(session, structure_id)
    seen = seen_by(session, inputs) if seen is None else seen
    faults = series_faults.found(session, inputs)
    lines = offered(inputs, seen, faults, bands(session))
    return with_states(session, {structure_id: lines})[structure_id]


def offered(
    inputs: Inputs, seen: list[Seen], faults: Sequence[FoundFault], limits: tuple[Band, ...]
) -> list[OfferLine]:
    """Return what the visits suggest, oldest first, as if nobody had decided anything."""
    steps = [
        fault.to_s for fault in faults if fault.quantity == "head" and fault.kind == Fault.STEP
    ]
    visits = visit_checks(seen)
    found_at = {visit.check.at_s: visit.found_s for visit in visits}
    found = offer_layers(
        [visit.check for visit in visits],
        steps_s=steps,
        exponent=_exponent(inputs),
        bands=limits,
    )
    lines = [
        _line(
            inputs,
            "sensor",
            offer.from_s,
            found_at[offer.to_s] + 1,
            layer=_until(offer.layer, found_at[offer.to_s] + 1),
            band=offer.band,
            why=offer.why,
            alternatives=tuple(
                _until(other, found_at[offer.to_s] + 1) or other
                for other in offer.alternatives
                if other.at_s is None or other.at_s <= found_at[offer.to_s]
            ),
        )
        for offer in found
    ]
    lines += _weed(inputs, seen, limits)
    return sorted(lines, key=lambda line: (line.from_s, line.kind))


def _until(layer: Layer | None, end_s: int) -> Layer | None:
    """End a correction where the staff was read as found: after that somebody cleaned."""
    if layer is None or (layer.at_s is not None and layer.at_s > end_s):
        return layer
    return replace(layer, to_s=end_s)


def _exponent(inputs: Inputs) -> float:
    if not inputs.ratings:
        return 1.5
    device = device_of(inputs.ratings[-1])
    middle = np.array([0.5 * device.head_max_m])
    return float(np.atleast_1d(device.exponent(middle))[0])


def _line(
    inputs: Inputs,
    kind: str,
    from_s: int,
    to_s: int,
    *,
    layer: Layer | None,
    band: Band,
    why: str,
    alternatives: tuple[Layer, ...] = (),
) -> OfferLine:
    key = f"{kind}:{inputs.structure.id}:{from_s}:{to_s}"
    return OfferLine(
        key=key,
        kind=kind,
        from_at=instant(from_s),
        to_at=instant(to_s),
        from_s=from_s,
        to_s=to_s,
        shape="none" if layer is None else str(layer.shape),
        amount_m=None if layer is None else layer.amount,
        amount_end_m=None if layer is None else layer.amount_end,
        band=band.key,
        action=band.action,
        why=why,
        form=None if layer is None else form_of(inputs, layer, key, why),
        alternatives=[
            (str(other.shape), form_of(inputs, other, key, why)) for other in alternatives
        ],
        state="open",
    )


def form_of(inputs: Inputs, layer: Layer, key: str, why: str) -> dict[str, str]:
    """Return a layer as the form of a correction."""

    def moment(t_s: int | None) -> str:
        return "" if t_s is None else forms.local_text(instant(t_s), inputs.offset_min)

    return {
        "shape": str(layer.shape),
        "quantity": "head",
        "from": moment(layer.from_s),
        "to": moment(layer.to_s),
        "at": moment(layer.at_s),
        "unit": "m",
        "amount": repr(round(layer.amount, 6)),
        "amount_end": repr(round(layer.amount_end, 6)),
        "reason": f"Offered: {why}",
        "offer_key": key,
    }


def _weed(inputs: Inputs, seen: list[Seen], limits: tuple[Band, ...]) -> list[OfferLine]:
    """Return offers where cleaning lowered the head while staff and sensor agree."""
    groups: dict[str, list[Seen]] = defaultdict(list)
    for one in seen:
        if one.row["visit_id"]:
            groups[one.row["visit_id"]].append(one)
    visits = sorted(groups.values(), key=lambda group: group[0].at_s)
    lines = []
    for k, group in enumerate(visits):
        found = next((s for s in group if s.occasion == "as_found"), None)
        left = next((s for s in reversed(group) if s.occasion == "as_left"), None)
        if k == 0 or found is None or left is None:
            continue
        fouled = {"weed", "debris", "silt", "ice"} & set(found.row["body"].get("conditions") or [])
        under = found.row["flow_code"] in (Flow.SUBMERGED_CORRECTED, Flow.SUBMERGED_UNDETERMINED)
        fall = float(found.row["head_m"]) - float(left.row["head_m"])
        if not fouled or under or fall <= WEED_M:
            continue
        begin, end = visits[k - 1][-1].at_s, found.at_s + 1
        ramp = Layer(Shape.RAMP, begin, end, 0.0, -fall)
        why = (
            f"cleaning ({', '.join(sorted(fouled))}) lowered the head by "
            f"{words.millimetres(fall)}; it grew since the visit before"
        )
        band = acceptance(fall, found.row["head_m"], bands=limits)
        spike = Layer(Shape.ESTIMATED, begin, end, math.nan, math.nan)
        line = _line(inputs, "weed", begin, end, layer=ramp, band=band, why=why)
        mark = form_of(inputs, spike, line.key, why) | {"amount": "", "amount_end": ""}
        lines.append(OfferLine(**{**vars(line), "alternatives": [(str(Shape.ESTIMATED), mark)]}))
    return lines


def with_states(
    session: Session, lines: Mapping[int, Sequence[OfferLine]]
) -> dict[int, list[OfferLine]]:
    """Return offers, by structure, with what was decided about each."""
    accepted = session.execute(
        sa.select(col(CorrectionLayer.offer_key)).where(
            col(CorrectionLayer.structure_id).in_(lines),
            col(CorrectionLayer.id).not_in(sa.select(col(LayerWithdrawal.layer_id))),
        )
    ).scalars()
    keys = [f"offer:{line.key}" for found in lines.values() for line in found]
    states = {
        key.removeprefix("offer:"): "returned"
        for key, row in newest(session, keys).items()
        if row.action == "return"
    }
    states |= dict.fromkeys(accepted, "accepted")  # a key names its structure
    return {key: [_with_state(line, states) for line in found] for key, found in lines.items()}


def _with_state(line: OfferLine, states: dict[str, str]) -> OfferLine:
    state = "nothing to do" if line.form is None else states.get(line.key, "open")
    return OfferLine(**{**vars(line), "state": state})
