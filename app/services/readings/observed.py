"""What one head reading says over the crest, and the flags that its own context raises."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from app.hydraulics.gauging import steadiness
from app.hydraulics.structure.device import Device, Flag
from app.records.entries import Entry
from app.records.sites import GaugeZero, Structure
from app.services.settings.in_force import Judging

FAR_UNDER_M = 0.05  # a head so far under the crest is no flow only when a person says dry
USUAL_SHARE = 1.5  # a head over so much of the top head of the rating is unusual
NOT_ANSWERED = "not answered"  # the phone asked about a figure, and it was saved without a word
NOT_KNOWN = steadiness.Steadiness(
    word="unknown",
    wait_min=None,
    slope_m_per_s=None,
    range_m=None,
    storage_m3s=None,
    tau_s=None,
    reason="one reading only",
)


@dataclass(frozen=True, kw_only=True)
class Observed:
    """What one head reading says, in metres over the crest, before it is rated."""

    entry: Entry
    head_m: float
    head_uncertainty_m: float
    tailwater_m: float
    free_seen: bool
    flags: int
    steadiness: steadiness.Steadiness
    no_water: bool = False
    """Far under the crest and nobody said dry: the staff cannot have been read so."""


def repeats(staff_m: Sequence[float]) -> tuple[float, float, float]:
    """Return mean, range and standard error of the mean (0 for a single reading)."""
    values = np.asarray(staff_m, dtype=float)
    if values.size < 2:
        return float(values.mean()), 0.0, 0.0
    return (
        float(values.mean()),
        float(np.ptp(values)),
        float(values.std(ddof=1) / math.sqrt(values.size)),
    )


def far_under(head_m: Any, device: Device) -> Any:
    """Tell which heads lie so far under the crest that only a person can call them dry."""
    return head_m < device.cease_to_flow_m - FAR_UNDER_M


def observed(
    entry: Entry, structure: Structure, zero: GaugeZero, device: Device, by: Judging
) -> Observed:
    """Return a reading over the crest, with the flags that its own context raises."""
    body = entry.body
    staff, spread, error = repeats(body["staff_m"])
    head = staff + zero.offset_m
    tail = body.get("tailwater") or {}
    tail_staff = tail.get("staff_m")
    uncertainty = math.hypot(structure.head_uncertainty_m, 2.0 * error)
    conditions = set(body.get("conditions") or [])
    flags = 0
    if spread > max(by.repeats_range_m, by.repeats_range_share * abs(head)):
        flags |= Flag.REPEATS_DISAGREE
    if "surging" in conditions:
        flags |= Flag.SURGING
    if (entry.observed_at - zero.valid_from).total_seconds() > by.zero_good_for_s:
        flags |= Flag.ZERO_OVERDUE
    sensor = body.get("sensor_head_m")
    if sensor is not None and abs(sensor - head) > by.sensor_difference_m:
        flags |= Flag.DIFFERS_FROM_SENSOR
    under = bool(far_under(head, device)) and not body.get("dry")
    unanswered = any(one["answer"] == NOT_ANSWERED for one in body.get("asked") or [])
    if body.get("as_typed") and not unanswered:
        flags |= Flag.UNUSUAL_CONFIRMED
    elif unanswered or under or head > USUAL_SHARE * device.head_max_m:
        flags |= Flag.UNUSUAL_HEAD
    steady = steadiness_of(entry, structure, zero, device, by.steady)
    flags |= {"settling": Flag.SETTLING, "unsteady": Flag.UNSTEADY}.get(steady.word, 0)
    return Observed(
        entry=entry,
        head_m=head,
        head_uncertainty_m=uncertainty,
        tailwater_m=math.nan if tail_staff is None else tail_staff + zero.tail_offset_m,
        free_seen=tail.get("state") == "clearly_free",
        flags=int(flags),
        steadiness=steady,
        no_water=under,
    )


def steadiness_of(
    entry: Entry,
    structure: Structure,
    zero: GaugeZero,
    device: Device,
    limits: steadiness.Limits,
) -> steadiness.Steadiness:
    """Return the steadiness class of a reading from its repeats, gate time and pond."""
    body = entry.body
    if len(body["staff_m"]) == 1 and not body.get("gate_opened_at"):
        return NOT_KNOWN
    heads = [staff + zero.offset_m for staff in body["staff_m"]]
    moments = body.get("read_at") or []
    times = [(datetime.fromisoformat(m) - entry.observed_at).total_seconds() for m in moments] or [
        0.0
    ] * len(heads)
    gate = body.get("gate_opened_at")
    mean = np.array([max(sum(heads) / len(heads), 0.0)])
    exponent = np.atleast_1d(device.exponent(np.maximum(mean, 1e-6)))
    return steadiness.classify(
        times,
        heads,
        exponent=float(exponent[0]),
        discharge_m3s=float(device.free_flow(mean).discharge_m3s[0]),
        pond_area_m2=structure.pond_area_m2,
        gate_opened_s=None
        if gate is None
        else (datetime.fromisoformat(gate) - entry.observed_at).total_seconds(),
        reading_uncertainty_m=structure.head_uncertainty_m,
        limits=limits,
    )
