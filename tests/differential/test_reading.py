"""A head reading at the water: repeats, steadiness, the table of the rating, its flags."""

import math
from datetime import timedelta
from functools import cache
from typing import Any

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from app.hydraulics.families.registry import build
from app.hydraulics.gauging.steadiness import classify
from app.hydraulics.rating.curve import phone_table
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device, Flow, flag_words
from app.language.clock import iso
from app.services.readings.observed import observed, repeats
from app.services.readings.rate import rate_observed
from app.services.settings.in_force import Judging
from app.services.sites.dated import in_force
from tests.builders.rows import NOW, entry_row, structure_row, zero_row
from tests.differential.harness import Phone, answered, drawn, same
from tests.vectors.preview import DEVICES

HEAD_M = st.one_of(
    st.floats(-0.5, 3.0), st.integers(-100, 900).map(lambda mm: mm / 1000), st.just(0.0)
)
UNCERTAINTY_M = st.one_of(st.floats(1e-4, 0.02), st.just(0.003))

# What the office knows of a device and no table carries.
OFFICE_ONLY = {
    "approach too fast",
    "geometry outside limits",
    "outside ISO limits",
    "outside Bos limits",
    "no critical control",
    "ISO extended range, 2 % added",
    "control section undefined at this head",
}
DISCHARGE_SHARE = 5e-4  # what the table may depart from the equation (app/hydraulics/rating/curve)
UNCERTAINTY_SHARE = 0.02  # of the uncertainty: straight lines between nodes of its parts


@drawn
@given(values=st.lists(HEAD_M, min_size=1, max_size=8))
def test_repeats_have_the_same_mean_and_spread(phone: Phone, values: list[float]) -> None:
    mean, spread, error = repeats(values)
    got = phone.ask("sums.repeats", values)["result"]
    same(got["mean"], mean, str(values))
    same(got["spread"], spread, str(values))
    assert (got["standardError"] is None) == (len(values) == 1)
    same(got["standardError"] or 0.0, error, str(values), 1e-8)


TIMES = st.one_of(
    st.lists(st.integers(0, 40).map(lambda n: 30.0 * n), max_size=8),
    st.lists(st.floats(-1e4, 1e4), max_size=8),
)


@drawn
@given(
    times=TIMES,
    steps_mm=st.lists(st.one_of(st.integers(-3, 3), st.integers(-40, 40)), min_size=8, max_size=8),
    base=st.sampled_from([0.2, 0.05, 0.0, -0.1, 1.0]),
    exponent=st.sampled_from([None, 1.522, 2.5]),
    discharge=st.sampled_from([None, 0.0, 0.0597, 0.5, -1.0]),
    pond=st.sampled_from([None, 0.0, 40.0, 400.0, 5000.0]),
    gate=st.one_of(st.none(), st.floats(-3000, 3000)),
    uncertainty=st.sampled_from([0.003, 0.001, 0.01]),
)
def test_a_flow_is_as_steady(
    phone: Phone, times, steps_mm, base, exponent, discharge, pond, gate, uncertainty
) -> None:
    heads = [base + mm / 1000 for mm in steps_mm[: len(times)]]
    known = {
        "exponent": exponent,
        "discharge_m3s": discharge,
        "pond_area_m2": pond,
        "gate_opened_s": gate,
        "reading_uncertainty_m": uncertainty,
    }
    said = classify(times, heads, **known)
    wanted = {name: getattr(said, name) for name in said.__dataclass_fields__}
    same(phone.ask("steadiness.classify", times, heads, known)["result"], wanted, str(times), 1e-6)


@cache
def device_of(place: int) -> tuple[Device, dict[str, Any]]:
    family, dims = DEVICES[place]
    device = build(family, dims)
    return device, phone_table(device)


PLACES = st.integers(0, len(DEVICES) - 1)


def head_of(device: Device, share: float) -> float:
    """Return a head of the device: 0 to 1 over its range, beyond that outside."""
    low, high = device.cease_to_flow_m, device.head_limit_m
    return float(f"{low + share * (min(high, 5.0) - low):.6g}")


@drawn
@given(
    place=PLACES,
    share=st.one_of(st.floats(0.0, 1.0), st.floats(-0.1, 1.3), st.sampled_from([0.0, 1.0])),
    ratio=st.one_of(st.none(), st.floats(-0.5, 1.2), st.sampled_from([0.0, 1.0, 0.9, 0.95])),
    uncertainty=UNCERTAINTY_M,
    seen=st.booleans(),
)
def test_the_table_gives_the_ratings_discharge(
    phone: Phone, place: int, share: float, ratio: float | None, uncertainty: float, seen: bool
) -> None:
    """Discharge within 0.05 %, the same word of the flow, the same flags; nothing outside."""
    device, table = device_of(place)
    head = head_of(device, share)
    tail = None if ratio is None else float(f"{ratio * abs(head):.6g}")
    rated = rate(
        device,
        np.array([head]),
        np.array([math.nan if tail is None else tail]),
        np.array([uncertainty]),
        free_seen=np.array([seen]),
    )
    got = phone.ask(
        "preview.previewFlow",
        table,
        {"head_m": head, "tailwater_m": tail, "headUncertainty_m": uncertainty, "freeSeen": seen},
    )["result"]
    where = f"{DEVICES[place]} head {head} tail {tail} u {uncertainty} seen {seen}"
    first, last = table["heads_m"][0], table["heads_m"][-1]
    if head > device.cease_to_flow_m and not first <= head <= last and head <= device.head_limit_m:
        assert got["discharge_m3s"] is None, where
        assert got["note"], where
        return
    flow, flags = Flow(int(rated.flow[0])), set(flag_words(int(rated.flags[0]))) - OFFICE_ONLY
    if on_an_edge(device, table, head, tail, uncertainty):
        return
    assert got["flow"] == flow.word, where
    assert set(got["flags"]) == flags, where
    wanted = float(rated.discharge_m3s[0])
    if math.isnan(wanted):
        assert got["discharge_m3s"] is None, where
        return
    same(got["discharge_m3s"], wanted, where, DISCHARGE_SHARE)
    same(got["uncertainty_pct"], float(rated.uncertainty_pct[0]), where, UNCERTAINTY_SHARE)


def on_an_edge(
    device: Device, table: dict[str, Any], head: float, tail: float | None, uncertainty: float
) -> bool:
    """Tell whether the ratio lies so near a limit that six digits of the table decide the word."""
    if tail is None or tail <= 0 or head <= 0 or not table["can_drown"]:
        return False
    limit = float(device.modular_limit(np.array([head]))[0])
    ratio = tail / head
    spread = ratio * math.hypot(uncertainty / tail, uncertainty / head)
    band = table.get("modular_limit_band", 0.0)
    return any(abs(each) < 2e-5 for each in (ratio - limit, ratio + spread - limit + band))


@drawn
@given(
    days=st.lists(st.integers(-5, 5), max_size=6),
    at_h=st.integers(-150, 150),
)
def test_the_same_row_is_in_force(phone: Phone, days: list[int], at_h: int) -> None:
    rows = [zero_row(NOW + timedelta(days=day), number=i) for i, day in enumerate(days, start=1)]
    at = NOW + timedelta(hours=at_h)
    office = in_force(rows, at)
    dated = [  # in the order in which the pack tells them
        {"id": row.id, "valid_from": iso(row.valid_from)}
        for row in sorted(rows, key=lambda row: (row.valid_from, row.id or 0))
    ]
    got = phone.ask("pack.inForce", dated, iso(at))["result"]
    assert (got or {}).get("id") == (office.id if office else None)


STAFF = st.one_of(st.floats(-0.4, 1.2), st.integers(-300, 900).map(lambda mm: mm / 1000))


@drawn
@given(
    place=PLACES,
    staff=st.lists(STAFF, min_size=1, max_size=5),
    close_mm=st.lists(st.integers(-12, 12), min_size=5, max_size=5),
    together=st.booleans(),
    step_s=st.sampled_from([0, 30, 60, 300]),
    tail=st.one_of(st.none(), STAFF),
    state=st.sampled_from(["read", "clearly_free", "not_seen"]),
    gate_min=st.one_of(st.none(), st.integers(-90, 5)),
    sensor=st.one_of(st.none(), STAFF),
    surging=st.booleans(),
    dry=st.booleans(),
    as_typed=st.booleans(),
    zero_days=st.sampled_from([0, 399, 400, 401, 800]),
    offset_mm=st.integers(-30, 30),
    pond=st.sampled_from([None, 40.0, 2000.0]),
)
def test_a_reading_is_assessed_alike(
    phone: Phone,
    place,
    staff,
    close_mm,
    together,
    step_s,
    tail,
    state,
    gate_min,
    sensor,
    surging,
    dry,
    as_typed,
    zero_days,
    offset_mm,
    pond,
) -> None:
    """The same head, word of the flow, flags, steadiness and uncertainty as the office's own."""
    device, table = device_of(place)
    if together:
        staff = [staff[0] + mm / 1000 for mm in close_mm[: len(staff)]]
    read_at = [
        iso(NOW - timedelta(seconds=step_s * (len(staff) - 1 - i))) for i in range(len(staff))
    ]
    gate = None if gate_min is None else iso(NOW + timedelta(minutes=gate_min))
    tail = tail if state == "read" else None
    offset = offset_mm / 1000
    zero = zero_row(NOW - timedelta(days=zero_days), offset)
    structure = structure_row(pond_area_m2=pond)
    body = {
        "staff_m": staff,
        "read_at": read_at,
        "gate_opened_at": gate,
        "sensor_head_m": sensor,
        "tailwater": {"state": state, "staff_m": tail},
        "conditions": ["surging"] if surging else [],
        **({"dry": True} if dry else {}),
        **({"as_typed": ["1"]} if as_typed else {}),
    }
    entry = entry_row("head_reading", body, structure.id)
    seen = observed(entry, structure, zero, device, Judging())
    rated = rate_observed(device, [seen])
    began = iso(NOW - timedelta(days=900))
    got = phone.ask(
        "assess.assess",
        {**body, "observed_at": iso(NOW)},
        {
            "gauge_zeros": [
                {
                    "id": 1,
                    "valid_from": iso(zero.valid_from),
                    "offset_m": zero.offset_m,
                    "tail_offset_m": zero.tail_offset_m,
                }
            ],
            "ratings": [{"id": 1, "valid_from": began, "table": table}],
            "head_uncertainty_m": 0.003,
            "pond_area_m2": pond,
        },
    )["result"]
    where = f"{DEVICES[place]} {body} zero {zero_days} d {offset}"
    same(got["head_m"], seen.head_m, where)
    first, last = table["heads_m"][0], table["heads_m"][-1]
    inside = first <= seen.head_m <= last
    assume(inside or seen.head_m <= device.cease_to_flow_m)  # else the office alone knows
    assume(
        not on_an_edge(
            device,
            table,
            seen.head_m,
            None if math.isnan(seen.tailwater_m) else seen.tailwater_m,
            seen.head_uncertainty_m,
        )
    )
    if len(staff) > 1 or gate:
        assert got["steady"]["word"] == seen.steadiness.word, where
    assert got["flow"]["flow"] == Flow(int(rated.flow[0])).word, where
    flags = set(flag_words(int(rated.flags[0]) | seen.flags)) - OFFICE_ONLY
    assert set(got["flow"]["flags"]) == flags, where
    wanted = float(rated.discharge_m3s[0])
    if math.isnan(wanted):
        assert got["flow"]["discharge_m3s"] is None, where
    else:
        same(got["flow"]["discharge_m3s"], wanted, where, DISCHARGE_SHARE)
        pct = float(rated.uncertainty_pct[0])
        same(got["flow"]["uncertainty_pct"], pct, where, UNCERTAINTY_SHARE)


def test_no_repeats_are_no_head(phone: Phone) -> None:
    assert phone.ask("sums.repeats", []) == answered(lambda: None)
