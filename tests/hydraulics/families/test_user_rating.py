"""Own ratings: segments with checked breaks, tables read in log-log."""

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.families.registry import build
from app.hydraulics.rating.inverse import discharge_to_head
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flag, Flow
from tests.hydraulics.checks import Check, checks


@pytest.mark.parametrize("check", checks("user_rating"), ids=str)
def test_published_figures(check: Check) -> None:
    given = check.inputs
    if check.device == "rating_power":
        top = 2.0 * given["h"]
        segment = f"{given['C']},{given['n']},{given['e']},{given['e'] + 0.02},{top}"
        device = build("user_power", {"segments": segment})
    else:
        rows = ", ".join(f"{h}:{q}" for h, q in zip(given["hs"], given["qs"], strict=True))
        device = build("user_table", {"table": rows})
    found = float(rate(device, given["h"]).discharge_m3s)
    assert found == pytest.approx(check.expected, rel=check.tolerance)


TWO = "1.2,1.62,0.035,0.06,0.3; 1.0,1.4826,0.035,0.3,0.8"


def test_segments_meet_and_never_step_back() -> None:
    device = build("user_power", {"segments": TWO})
    assert device.breaks_m == (0.3,)
    assert device.cease_to_flow_m == 0.035
    heads = np.concatenate((np.linspace(0.0, 0.9, 400), 0.3 + np.array([-1e-9, 0.0, 1e-9])))
    heads.sort()
    rated = rate(device, heads)
    assert np.all(np.diff(rated.discharge_m3s) >= 0)
    assert rate(device, 0.3).discharge_m3s == pytest.approx(
        rate(device, 0.3 - 1e-9).discharge_m3s, rel=0.01
    )
    assert Flow(rate(device, 0.034).flow.item()) is Flow.NO_FLOW


def test_head_share_counts_from_the_cease_to_flow_head() -> None:
    """Combined exponent n h / (h - e): n U / (h - e) (derived)."""
    device = build("user_power", {"segments": TWO})
    found = float(rate(device, 0.1, head_uncertainty_m=0.002).parts["head"])
    assert found == pytest.approx(100 * 1.62 * 0.002 / 0.065, rel=1e-9)


@pytest.mark.parametrize(
    ("segments", "rule"),
    [
        ("1.2,1.62,0.035,0.06,0.3; 1.3,1.62,0.035,0.3,0.8", "within 1 %"),
        ("1.2,1.62,0.035,0.06,0.3; 1.2,1.62,0.035,0.4,0.8", "begin where the one before ends"),
        ("1.2,1.62,0.1,0.06,0.3", "e at most h_lo"),
        ("0,1.62,0,0.06,0.3", "above 0"),
        ("1.2,1.62", "C,n,e,h_lo,h_hi"),
        (";", "needs a segment"),
    ],
)
def test_bad_segments_are_refused(segments: str, rule: str) -> None:
    with pytest.raises(BadInput, match=rule):
        build("user_power", {"segments": segments})


ROWS = "0.05:0.0072, 0.1:0.0208, 0.2:0.0596, 0.4:0.1711"


def test_table_is_exact_for_a_power_law_and_followed_flagged_above() -> None:
    heads = np.array([0.05, 0.1, 0.3, 0.5])
    rows = ", ".join(f"{h}:{0.69 * h**1.522:.12g}" for h in heads)
    device = build("user_table", {"table": rows, "modular_limit": 0.7})
    asked = np.linspace(0.03, 0.7, 60)
    rated = rate(device, asked)
    np.testing.assert_allclose(rated.discharge_m3s, 0.69 * asked**1.522, rtol=1e-9)
    assert rated.flags[0] == Flag.BELOW_RANGE
    assert rated.flags[-1] == Flag.ABOVE_RANGE
    beyond = rate(device, 0.76)
    assert np.isnan(beyond.discharge_m3s)
    assert Flow(beyond.flow.item()) is Flow.NOT_RATED


def test_zero_row_states_where_flow_ceases() -> None:
    rows = "0.02:0, " + ", ".join(f"{h}:{1.1 * (h - 0.02) ** 1.5:.12g}" for h in (0.05, 0.1, 0.4))
    device = build("user_table", {"table": rows})
    assert device.cease_to_flow_m == 0.02
    asked = np.array([0.02, 0.03, 0.07, 0.3])
    np.testing.assert_allclose(
        rate(device, asked).discharge_m3s, 1.1 * (asked - 0.02) ** 1.5, rtol=1e-9
    )


@pytest.mark.parametrize(
    "table", ["0.1:0.02", "0.1:0.02, 0.05:0.03", "0.1:0.02, 0.2:0.01", "a:b, c:d", "0.1-0.2, 1"]
)
def test_bad_tables_are_refused(table: str) -> None:
    with pytest.raises(BadInput) as refused:
        build("user_table", {"table": table})
    assert refused.value.field == "table"


def test_without_a_modular_limit_a_tailwater_leaves_it_assumed() -> None:
    plain = build("user_table", {"table": ROWS})
    assert Flow(rate(plain, 0.3, 0.1).flow.item()) is Flow.ASSUMED_FREE
    limited = build("user_table", {"table": ROWS, "modular_limit": 0.7})
    states = [Flow(c) for c in rate(limited, [0.3, 0.3], [0.1, 0.25]).flow]
    assert states == [Flow.FREE, Flow.SUBMERGED_UNDETERMINED]


def test_inverse_of_a_table_with_an_offset() -> None:
    device = build("user_table", {"table": "0.02:0, " + ROWS})
    heads = np.linspace(0.03, 0.45, 30)
    found = discharge_to_head(device, rate(device, heads).discharge_m3s)
    np.testing.assert_allclose(found, heads, rtol=1e-9)
    assert float(discharge_to_head(device, 0.0)) == 0.02
