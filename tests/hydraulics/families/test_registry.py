"""What must hold for every family in the registry, whatever its equations."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.families.registry import DEVICES, build
from app.hydraulics.rating import rate as rating
from app.hydraulics.rating.inverse import discharge_to_head
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device, Family, Flag, Flow
from tests.hydraulics.checks import checks
from tests.hydraulics.registry import TABLE_OF, devices, name

FAMILIES = pytest.mark.parametrize("family", DEVICES.values(), ids=name)
ALL = pytest.mark.parametrize("device", devices(), ids=name)


def heads_of(device: Device, count: int = 200, top: float = 1.2) -> np.ndarray:
    floor = max(device.cease_to_flow_m, device.head_floor_m)
    low = floor + 0.05 * (device.head_min_m - min(floor, device.head_min_m)) + 0.002
    return np.geomspace(max(low, 1.05 * floor), top * device.head_max_m, count)


@FAMILIES
def test_every_family_says_what_it_rests_on(family: Family) -> None:
    assert family.sources
    assert all(source.text and source.provenance for source in family.sources)
    assert family.limits_text
    assert 0 < family.tested_tolerance_pct < 10
    table, device_name = TABLE_OF[family.key]
    rows = [check for check in checks(table) if check.device == device_name]
    assert rows
    assert all(row.source and row.provenance for row in rows)


@FAMILIES
def test_dimensions_explain_themselves(family: Family) -> None:
    keys = [d.key for d in family.dimensions]
    names = keys + [alias for d in family.dimensions for alias in d.aliases]
    assert len(names) == len(set(names))
    for d in family.dimensions:
        assert d.label
        assert d.kind in {"length", "slope", "angle", "count", "choice", "text"}
        assert (d.kind == "choice") == bool(d.choices)
        if d.required and d.default is None and "size" not in keys:
            left_out = {k: v for k, v in family.example.items() if k != d.key}
            with pytest.raises(BadInput) as refused:
                family.build(left_out)
            assert refused.value.field == d.key
            assert refused.value.remedy
    with pytest.raises(BadInput) as refused:
        family.build({**family.example, "no_such_thing": 1.0})
    assert refused.value.field == "no_such_thing"


@ALL
def test_dims_survive_json_and_build_the_same_device(device: Device) -> None:
    again = build(device.family.key, json.loads(json.dumps(device.dims)))
    assert again.dims == device.dims
    heads = heads_of(device, 7)
    np.testing.assert_array_equal(
        again.free_flow(heads).discharge_m3s, device.free_flow(heads).discharge_m3s
    )
    assert device.describe()


@ALL
def test_more_head_more_flow(device: Device) -> None:
    flow = rate(device, heads_of(device, 500)).discharge_m3s
    flow = flow[np.isfinite(flow)]
    assert flow.size > 300
    assert np.all(np.diff(flow) > (-1e-15 if device.breaks_m else 0.0))


@ALL
def test_more_tailwater_never_more_flow(device: Device) -> None:
    heads = heads_of(device, 12, 1.0)
    tails = np.linspace(-0.1, 1.0, 223)[:, None] * heads
    flow = rate(device, heads, tails, 1e-6).discharge_m3s
    for column in flow.T:
        known = column[np.isfinite(column)]
        assert np.all(np.diff(known) <= 1e-12)
    last_known = np.isfinite(flow).cumsum(axis=0).max(axis=0)
    assert np.array_equal(np.isfinite(flow).sum(axis=0), last_known)  # unknown stays unknown


@ALL
def test_continuous_where_drowning_sets_in(device: Device) -> None:
    if not device.correction:
        return
    heads = heads_of(device, 9, 1.0)
    limit = device.modular_limit(heads)
    below, above = (rate(device, heads, heads * (limit + s), 1e-9) for s in (-1e-7, 1e-7))
    np.testing.assert_allclose(above.discharge_m3s, below.discharge_m3s, rtol=1e-5)
    grid = np.linspace(0.0, device.max_submergence, 2001)[:, None]
    flow = rate(device, heads, grid * heads, 1e-9).discharge_m3s
    steps = np.abs(np.diff(flow, axis=0)) / flow[0]
    assert np.nanmax(steps) < 0.006  # no jump anywhere on the way


@ALL
def test_continuous_at_breaks(device: Device) -> None:
    for at in device.breaks_m:
        both = rate(device, [at * (1 - 1e-9), at * (1 + 1e-9)]).discharge_m3s
        assert both[0] == pytest.approx(both[1], rel=0.01)


@ALL
def test_an_array_is_its_single_readings(device: Device) -> None:
    heads = np.concatenate((heads_of(device, 9), [np.nan, -0.01, 0.0]))
    tails = np.array([np.nan, -0.01, 0.1, 0.5, 0.7, 0.85, 0.92, 0.97, 1.1, 0.1, np.nan, 0.0])
    tails[:9] *= heads[:9]
    whole = rate(device, heads, tails, 0.002)
    for i in range(heads.size):
        one = rate(device, heads[i], tails[i], 0.002)
        assert one.flow == whole.flow[i]
        assert one.flags == whole.flags[i]
        for key in ("discharge_m3s", "uncertainty_pct", "submergence_ratio"):
            np.testing.assert_allclose(getattr(one, key), getattr(whole, key)[i], rtol=1e-11)


@ALL
def test_long_arrays_are_their_blocks(device: Device, monkeypatch: pytest.MonkeyPatch) -> None:
    heads = np.concatenate((heads_of(device, 150), [np.nan, 0.0, -1.0], heads_of(device, 150)))
    tails = np.where(np.arange(heads.size) < 120, np.nan, 0.8 * heads)
    seen = np.arange(heads.size) % 3 == 0
    whole = rate(device, heads, tails, free_seen=seen)
    monkeypatch.setattr(rating, "BLOCK", 64)
    pieces = rate(device, heads, tails, free_seen=seen)
    for key in ("discharge_m3s", "uncertainty_pct", "submergence_ratio", "flow", "flags"):
        np.testing.assert_allclose(getattr(pieces, key), getattr(whole, key), rtol=1e-12)
    for group in ("parts", "detail"):
        for key, values in getattr(whole, group).items():
            np.testing.assert_allclose(getattr(pieces, group)[key], values, rtol=1e-12)


@ALL
def test_head_for_a_discharge_is_the_inverse(device: Device) -> None:
    heads = heads_of(device, 60)
    flow = rate(device, heads).discharge_m3s
    known = np.isfinite(flow) & (flow > 0)
    for at in device.breaks_m:  # a step at a break has no single inverse
        known &= np.abs(heads / at - 1.0) > 0.02
    found = discharge_to_head(device, flow[known])
    np.testing.assert_allclose(found, heads[known], rtol=1e-9)
    assert np.isnan(discharge_to_head(device, [np.nan, -1.0, 1e9])).all()


@ALL
def test_unknown_only_where_it_is_said(device: Device) -> None:
    odd = np.array([np.nan, np.inf, -np.inf, -5.0, -1e-12, 0.0, 1e-300, 1e-9, 1e-4, 50.0, 1e6])
    heads = np.concatenate((odd, heads_of(device, 40)))
    for tails in (
        None,
        heads * 0.3,
        heads * 0.96,
        np.full(heads.shape, 0.05),
        np.full(heads.shape, np.nan),
    ):
        rated = rate(device, heads, tails, 0.003)
        states = rated.flow
        unknown = (states == Flow.NOT_RATED) | (states == Flow.SUBMERGED_UNDETERMINED)
        np.testing.assert_array_equal(np.isnan(rated.discharge_m3s), unknown)
        np.testing.assert_array_equal(np.isnan(rated.uncertainty_pct), unknown)
        assert np.all(rated.discharge_m3s[states == Flow.NO_FLOW] == 0)
        assert np.all(rated.discharge_m3s[~unknown] >= 0)
        np.testing.assert_array_equal((rated.flags & Flag.HEAD_MISSING) > 0, ~np.isfinite(heads))
        not_rated = states == Flow.NOT_RATED
        assert np.all(rated.flags[not_rated] != 0)  # never without a reason
        assert rated.flow.dtype == np.int8
        assert rated.flags.dtype == np.int64


@ALL
def test_out_of_range_heads_are_computed_and_flagged(device: Device) -> None:
    low = max(0.97 * device.head_min_m, 1.1 * max(device.head_floor_m, device.cease_to_flow_m))
    rated = rate(device, [low, 0.5 * (device.head_min_m + device.head_max_m)])
    if low < device.head_min_m:
        assert rated.flags[0] & Flag.BELOW_RANGE
    assert not rated.flags[1] & (Flag.BELOW_RANGE | Flag.ABOVE_RANGE)
    assert rate(device, 1.05 * device.head_max_m).flags & Flag.ABOVE_RANGE


@ALL
def test_a_free_drop_seen_and_a_tailwater_below_the_zero_are_free(device: Device) -> None:
    head = 0.5 * (device.head_min_m + device.head_max_m)
    assert Flow(rate(device, head, free_seen=True).flow.item()) is Flow.FREE
    assert Flow(rate(device, head, -0.02).flow.item()) is Flow.FREE
    expected = Flow.ASSUMED_FREE if device.can_drown else Flow.FREE
    assert Flow(rate(device, head).flow.item()) is expected


@ALL
def test_modular_limit_is_a_ratio(device: Device) -> None:
    limit = device.modular_limit(heads_of(device, 20))
    if device.family.key.startswith("user_") and "modular_limit" not in device.dims:
        assert np.isnan(limit).all()  # nobody has stated one
    else:
        assert np.all((limit >= 0) & (limit < 1))


@ALL
def test_budget_adds_up(device: Device) -> None:
    heads = heads_of(device, 30, 1.0)
    rated = rate(device, heads, heads * 0.5, 0.002)
    known = np.isfinite(rated.uncertainty_pct) & (rated.discharge_m3s > 0)
    total = np.sqrt(sum(values**2 for values in rated.parts.values()))
    np.testing.assert_allclose(rated.uncertainty_pct[known], total[known], rtol=1e-12)
    assert np.all(rated.uncertainty_pct[known] >= rated.parts["device"][known])


@ALL
def test_lengths_in_feet_build_the_same_device(device: Device) -> None:
    lengths = {d.key for d in device.family.dimensions if d.kind == "length"}
    in_feet = {
        key: f"{value / 0.3048:.15g} ft" if key in lengths and isinstance(value, float) else value
        for key, value in device.dims.items()
    }
    heads = heads_of(device, 11)
    np.testing.assert_allclose(
        rate(device.family.build(in_feet), heads).discharge_m3s,
        rate(device, heads).discharge_m3s,
        rtol=1e-9,
    )


@pytest.mark.parametrize(
    "key", ["long_throat_rect", "long_throat_trap", "long_throat_u", "long_throat"]
)
@pytest.mark.parametrize("scale", [0.3048, 3.0])
def test_critical_flow_scales_by_froude(key: str, scale: float) -> None:
    """All lengths times k make all discharges times k^2.5: the same in any unit (derived)."""
    family = DEVICES[key]
    lengths = {d.key for d in family.dimensions if d.kind == "length"}
    device = family.build(family.example)
    scaled = family.build(
        {k: v * scale if k in lengths else v for k, v in device.dims.items()}  # type: ignore[operator]
    )
    heads = np.linspace(device.head_min_m, device.head_max_m, 15)
    np.testing.assert_allclose(
        rate(scaled, heads * scale).discharge_m3s,
        rate(device, heads).discharge_m3s * scale**2.5,
        rtol=1e-9,
    )


@settings(max_examples=20, deadline=None, derandomize=True)
@given(
    st.floats(0.1, 1.0),
    st.floats(0.0, 3.0),
    st.floats(0.2, 2.0),
    st.floats(0.05, 0.5),
    st.floats(0.1, 1.0),
)
def test_any_trapezoid_is_monotone_and_inverts(
    b: float, m: float, L: float, p: float, share: float
) -> None:
    device = build("long_throat_trap", {"b": b, "m": m, "L": L, "p": p, "B": b + 2.0, "B_m": m})
    heads = device.head_min_m + share * (device.head_max_m - device.head_min_m) * np.array(
        [0.5, 1.0]
    )
    flow = rate(device, heads).discharge_m3s
    assert flow[0] < flow[1]
    np.testing.assert_allclose(discharge_to_head(device, flow), heads, rtol=1e-9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.floats(0.03, 0.76), st.floats(-0.2, 1.5), st.floats(0.0, 0.01))
def test_any_reading_of_a_parshall_gets_an_answer(head: float, ratio: float, spread: float) -> None:
    rated = rate(build("parshall", {"size": "1ft"}), head, head * ratio, spread)
    free = 0.6909 * head**1.522
    if np.isnan(rated.discharge_m3s):
        assert Flow(rated.flow.item()) in {Flow.NOT_RATED, Flow.SUBMERGED_UNDETERMINED}
    else:
        assert 0 < float(rated.discharge_m3s) <= free * (1 + 1e-12)
        assert float(rated.uncertainty_pct) >= 3.0


@FAMILIES
def test_a_tolerance_says_how_its_table_was_come_by(family: Family) -> None:
    file, device = TABLE_OF[family.key]
    marks = {check.provenance for check in checks(file) if check.device == device}
    weakest = next(m for m in ("from memory", "read", "derived") if m in marks)
    assert str(family.tested_table) == weakest
    assert ("as remembered" in family.tested_words) == (weakest == "from memory")
    assert ("published" in family.tested_words) == (weakest == "read")
