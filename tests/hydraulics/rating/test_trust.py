"""How far a rating is trusted: beyond its tested heads, and when nobody knows whether it drowns.

The growth outside the range is held against random exponents drawn in numpy (form of GUM
supplement 1); the figures 0.5 an exponent, 1.5 times the top head and a ratio of 0.5 are common
practice.
"""

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.families.registry import DEVICES, build
from app.hydraulics.rating.rate import rate
from app.hydraulics.rating.uncertainty import RANGE_EXPONENT, range_part_pct
from app.hydraulics.structure.device import Device, Flag, Flow, flag_words
from tests.hydraulics.rating.draws import monte_carlo_pct
from tests.hydraulics.registry import devices, name

ALL = pytest.mark.parametrize("device", devices(), ids=name)
OWN = {"segments": "1.2,1.62,0.035,0.06,0.6"}
TABLE = {"table": "0.05:0.0072, 0.1:0.0208, 0.2:0.0596, 0.4:0.1711"}


def test_head_of_thirty_metres_in_a_one_foot_parshall_gives_no_discharge() -> None:
    rated = rate(build("parshall", {"size": "1ft"}), 30.0, 5.0, compare=True)
    assert np.isnan(rated.discharge_m3s)
    assert np.isnan(rated.uncertainty_pct)
    assert Flow(rated.flow.item()).word == "not rated"
    assert flag_words(rated.flags.item()) == ["above range", "too far above range for a discharge"]
    assert all(np.isnan(v) for k, v in rated.detail.items() if k.endswith("_m3s"))


@ALL
@pytest.mark.parametrize("factor", [1.02, 1.2, 1.45])
def test_uncertainty_grows_above_the_range_and_ends_at_the_limit(
    device: Device, factor: float
) -> None:
    top = device.head_max_m
    inside, out = rate(device, top, 0.0), rate(device, factor * top, 0.0)
    e = device.cease_to_flow_m
    # recomputed: the exponent doubted by a half, from the top head on
    own = 50.0 * np.log((factor * top - e) / (top - e))
    assert float(out.parts["range"]) == pytest.approx(own)
    assert float(inside.parts["range"]) == 0.0
    if np.isfinite(out.discharge_m3s):  # some lose their control above the range
        others = sum(float(v) ** 2 for k, v in out.parts.items() if k != "range")
        assert float(out.uncertainty_pct) == pytest.approx(np.hypot(own, np.sqrt(others)))
    past = rate(device, 1.5001 * top, 0.0)
    assert np.isnan(past.discharge_m3s)
    assert past.flags & Flag.BEYOND_LIMIT
    assert not rate(device, 1.4999 * top).flags & Flag.BEYOND_LIMIT


@ALL
def test_uncertainty_grows_below_the_range(device: Device) -> None:
    e, low = max(device.cease_to_flow_m, device.head_floor_m), device.head_min_m
    if low - e < 0.004 or device.head_floor_m > 0:
        return
    heads = e + (low - e) * np.array([0.25, 0.5, 0.9, 1.0])
    rated = rate(device, heads)
    expected = -50.0 * np.log((heads - device.cease_to_flow_m) / (low - device.cease_to_flow_m))
    np.testing.assert_allclose(rated.parts["range"], expected, atol=1e-9)
    assert np.all(rated.uncertainty_pct >= expected)


def test_growth_against_exponents_drawn_at_random() -> None:
    """Power laws tied to the top head, n = 1.5 ± 0.5 (k = 2): the spread of their discharges."""
    rng = np.random.default_rng(11)
    exponents = rng.normal(1.5, RANGE_EXPONENT / 2.0, 200_000)
    for ratio in (1.1, 1.3, 1.5):
        flows = np.log(ratio) * exponents  # ln Q against the tied point
        stated = float(range_part_pct(np.asarray(0.5 * ratio), 0.05, 0.5))
        assert stated == pytest.approx(monte_carlo_pct(1.0 + flows - flows.mean()), rel=0.02)
    assert float(range_part_pct(np.asarray(0.75), 0.05, 0.5)) == pytest.approx(20.3, abs=0.1)


def test_a_range_that_begins_where_flow_begins_has_no_outside_below() -> None:
    assert float(range_part_pct(np.asarray(0.001), 0.0, 1.0)) == 0.0


def test_a_raised_limit_needs_a_reason_and_is_followed() -> None:
    for family, dims in (("parshall", {"size": "1ft"}), ("user_power", OWN), ("user_table", TABLE)):
        with pytest.raises(BadInput) as refused:
            build(family, {**dims, "head_limit": 2})
        assert refused.value.field == "head_limit_reason"
        raised = build(family, {**dims, "head_limit": 2, "head_limit_reason": "gauged in flood"})
        assert np.isfinite(rate(raised, 1.9 * raised.head_max_m).discharge_m3s)
        assert np.isnan(rate(raised, 2.01 * raised.head_max_m).discharge_m3s)
        lowered = build(family, {**dims, "head_limit": 1.0})
        assert np.isnan(rate(lowered, 1.01 * lowered.head_max_m).discharge_m3s)
    with pytest.raises(BadInput, match="without its limit"):
        build("parshall", {"size": "1ft", "head_limit_reason": "why"})


@pytest.mark.parametrize(("family", "dims"), [("user_power", OWN), ("user_table", TABLE)])
def test_unknown_limit_is_never_silently_free(family: str, dims: dict[str, str | float]) -> None:
    device = build(family, dims)
    ratios = np.array([np.nan, 0.0, 0.3, 0.49, 0.51, 0.95])
    rated = rate(device, 0.3, 0.3 * ratios, 0.001)
    assert [Flow(code).word for code in rated.flow] == [
        "assumed free", "free", *["assumed free"] * 2, *["submerged, not determined"] * 2,
    ]  # fmt: skip
    np.testing.assert_array_equal(np.isnan(rated.discharge_m3s), ratios > 0.5)
    flagged = (rated.flags & Flag.LIMIT_UNKNOWN) > 0
    assert flagged.tolist() == [True, False, True, True, True, True]
    assert rate(device, 0.3).flags & Flag.LIMIT_UNKNOWN
    assert not rate(device, 0.3, free_seen=True).flags & Flag.LIMIT_UNKNOWN
    stated = build(family, {**dims, "modular_limit": 0.7})
    assert not rate(stated, 0.3).flags
    assert Flow(rate(stated, 0.3, 0.18, 0.001).flow.item()) is Flow.FREE


def test_what_cannot_drown_is_free_and_doubted_where_the_tailwater_says_otherwise() -> None:
    for key in ("parshall", "user_power", "rect_weir"):
        dims = {k: v for k, v in DEVICES[key].example.items() if k != "modular_limit"}
        device = DEVICES[key].build({**dims, "cannot_drown": "falls freely onto rock"})
        head = 0.5 * (device.head_min_m + device.head_max_m)
        assert not device.can_drown
        assert Flow(rate(device, head).flow.item()) is Flow.FREE
        assert Flow(rate(device, head, 0.4 * head, 0.0005).flow.item()) is Flow.FREE
        doubted = rate(device, head, 0.9 * head, 0.0005)
        assert Flow(doubted.flow.item()) is Flow.ASSUMED_FREE
        assert doubted.flags & Flag.DROWNING_DOUBTED
        assert doubted.discharge_m3s == rate(device, head).discharge_m3s
    with pytest.raises(BadInput, match="beside a modular limit"):
        build("user_power", {**OWN, "modular_limit": 0.7, "cannot_drown": "free overfall"})
