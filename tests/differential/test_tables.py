"""How the phone reads the table of a rating: nodes, drowned factor, outside the tested heads."""

from typing import Any

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from app.hydraulics.rating.curve import interpolate
from app.hydraulics.rating.uncertainty import range_part_pct
from tests.differential.harness import Phone, drawn, same
from tests.differential.test_reading import PLACES, device_of

SHARE = st.one_of(st.floats(-0.2, 1.2), st.sampled_from([0.0, 1.0]))
READ_ALIKE = 1e-8  # the office reads the same nodes by numpy


def between(nodes: list[float], share: float) -> float:
    return float(f"{nodes[0] + share * (nodes[-1] - nodes[0]):.6g}")


@drawn
@given(place=PLACES, share=SHARE)
def test_a_node_and_between(phone: Phone, place: int, share: float) -> None:
    _, table = device_of(place)
    head = between(table["heads_m"], share)
    got = phone.ask("preview.interpolate", table, head)["result"]
    office = float(interpolate(table, head))
    if np.isnan(office):
        assert got is None, head
        return
    same(got["discharge_m3s"], office, str(head), READ_ALIKE)
    x, nodes = np.log(head), np.log(table["heads_m"])
    for key in ("device_pct", "exponent"):
        same(got[key], float(np.interp(x, nodes, table[key])), f"{key} at {head}", READ_ALIKE)


@drawn
@given(place=PLACES, share=st.floats(0.0, 1.0), ratio=st.floats(0.0, 1.0))
def test_a_drowned_factor(phone: Phone, place: int, share: float, ratio: float) -> None:
    """Over the free discharge of the same table; above the limit, where the office reads it."""
    _, table = device_of(place)
    assume(table["drowned"] is not None)
    head = between(table["heads_m"], share)
    limits = [limit for limit in table["modular_limit"] if limit is not None]
    assume(max(limits, default=1.0) < ratio <= table["max_submergence"])
    office = float(interpolate(table, head, ratio * head) / interpolate(table, head))
    got = phone.ask("preview.drownedFactor", table, head, ratio)["result"]
    same(got, office, f"{place} {head} {ratio}", 1e-6)


@drawn
@given(
    cease=st.sampled_from([0.0, 0.02, -0.01]),
    low=st.one_of(st.floats(0.01, 0.3), st.sampled_from([0.0, 0.02, -0.01, 0.015])),
    span=st.floats(0.05, 1.0),
    share=st.one_of(st.floats(0.01, 3.0), st.sampled_from([0.5, 1.0, 1.2, 1.5])),
)
def test_outside_the_tested_heads(
    phone: Phone, cease: float, low: float, span: float, share: float
) -> None:
    """A range that begins at or under the cease-to-flow head has no outside below."""
    _, whole = device_of(0)
    high = low + span
    table: dict[str, Any] = {
        "head_min_m": low,
        "head_max_m": high,
        "cease_to_flow_m": cease,
        "range_exponent": whole["range_exponent"],
    }
    head = cease + share * max(high - cease, 0.01)
    office = float(range_part_pct(np.asarray(head), low, high, cease))
    got = phone.ask("preview.rangePct", table, head)["result"]
    same(got, office, f"{table} {head}", 1e-8)


@drawn
@given(place=PLACES, share=st.floats(0.0, 1.0))
def test_a_column_of_a_plan(phone: Phone, place: int, share: float) -> None:
    _, table = device_of(place)
    head = between(table["heads_m"], share)
    assume(table["heads_m"][0] <= head <= table["heads_m"][-1])
    got = phone.ask("plan_sums.columnAt", table, "exponent", head)["result"]
    wanted = np.interp(np.log(head), np.log(table["heads_m"]), table["exponent"])
    same(got, float(wanted), f"{place} {head}", READ_ALIKE)
