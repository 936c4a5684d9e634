"""Choosing a structure: every family answers, the ranking and the reasons hold."""

from functools import cache
from typing import Any

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.channel.sections import Trapezoid
from app.hydraulics.channel.uniform import normal_depth
from app.hydraulics.families.registry import DEVICES, build
from app.hydraulics.rating.inverse import discharge_to_head
from app.hydraulics.rating.rate import rate
from app.services.plans.choosing.answer import choose
from app.services.plans.choosing.question import question, race, tail

FORM = {"min": "0.004", "max": "0.12", "race": "trap:b=0.8,m=1,slope=0.0005,n=0.03", "bank": "0.6"}
ORDER = ["suits", "suits with care", "does not suit"]


@cache
def answer(**changes: str) -> dict[str, Any]:
    return choose(question({**FORM, **changes}))


@pytest.fixture(scope="module")
def told() -> dict[str, Any]:
    return answer()


def test_every_family_has_its_rows_and_what_fails_says_why(told: dict[str, Any]) -> None:
    rows = told["rows"]
    assert len(rows) >= 20
    assert {r["family"] for r in rows} == {k for k in DEVICES if not k.startswith("user_")}
    assert [r["rank"] for r in rows] == list(range(1, len(rows) + 1))
    places = [ORDER.index(r["verdict"]) for r in rows]
    assert places == sorted(places)
    for row in rows:
        assert row["suits"] == (row["verdict"] != "does not suit")
        if not row["suits"]:
            assert row["reason"]


def test_figures_are_those_of_the_structure_alone(told: dict[str, Any]) -> None:
    flows = np.array(told["flows_m3s"])
    tails = normal_depth(Trapezoid(0.8, 1.0), flows, 0.03, 0.0005)
    assert told["tail_depths_m"] == pytest.approx(tails)
    for row in [r for r in told["rows"] if "flows" in r][::6]:
        device = build(row["family"], row["dims"])
        heads = discharge_to_head(device, flows)
        seen = np.array([f["head_m"] for f in row["flows"]])
        assert seen == pytest.approx(heads, rel=1e-9)
        rated = rate(device, heads)
        for i, flow in enumerate(row["flows"]):
            expected = rated.uncertainty_pct[i]
            if np.isnan(expected):
                assert flow["uncertainty_pct"] is None
            else:
                assert flow["uncertainty_pct"] == pytest.approx(expected)
            above = max(tails[i] - row["crest_m"], 0.0)
            assert flow["submergence_ratio"] == pytest.approx(above / heads[i])
            level = 0.6 - row["crest_m"] - heads[i]
            assert flow["freeboard_m"] == pytest.approx(level, abs=1e-9)
        free = all(f["submergence_ratio"] <= f["modular_limit"] + 1e-9 for f in row["flows"])
        assert row["free_over_range"] == free
        assert row["in_range_least"] == (heads[0] >= device.head_min_m)
        assert row["in_range_most"] == (heads[-1] <= device.head_max_m)


def test_a_crest_at_the_height_said_to_be_free_is_free() -> None:
    for row in [r for r in answer(weed="0.05", bank="1.5")["rows"] if "flows" in r][::5]:
        assert row["crest_m"] >= row["crest_needed_m"] - 1e-6
        assert all(f["submergence_weedy"] <= f["modular_limit"] + 1e-6 for f in row["flows"])


def test_what_suits_here_is_within_every_limit() -> None:
    rows = answer(weed="0", bank="0.8")["rows"]
    good = [r for r in rows if r["verdict"] == "suits"]
    assert good
    for row in good:
        assert not row["reasons"]
        assert row["in_range_least"]
        assert row["in_range_most"]
        assert row["free_over_range"]
        assert row["freeboard_m"] >= 0.15 - 1e-9
        assert row["froude_most"] <= 0.45 + 1e-9
    worst = [r["uncertainty_worst_pct"] for r in good]
    assert worst == sorted(worst)


def test_reasons_name_what_is_wrong(told: dict[str, Any]) -> None:
    def reason(family: str, size: str) -> str:
        return next(
            str(r["reason"]) for r in told["rows"] if r["family"] == family and size in r["size"]
        )

    assert "round pipe" in reason("long_throat", "300 mm")
    assert "wider than the race" in reason("parshall", "50 ft")
    assert "upright walls" in reason("full_width_weir", "plate")
    assert "more than this structure passes" in reason("parshall", "1 in")
    assert "freeboard" in reason("v_notch", "90")


def test_an_upright_race_takes_a_plate_and_a_lower_bank_takes_less() -> None:
    upright = answer(race="rect:b=1.2,slope=0.002,n=0.015", bank="1.2")
    row = next(r for r in upright["rows"] if r["family"] == "full_width_weir")
    assert row["dims"]["b"] == pytest.approx(1.2)
    assert row["suits"]
    high = {r["described"] for r in answer(bank="0.8", weed="0")["rows"] if r["suits"]}
    low = {r["described"] for r in answer(bank="0.5", weed="0")["rows"] if r["suits"]}
    assert len(low) < len(high)


def test_the_allowed_rise_is_kept() -> None:
    free = answer(bank="0.8", weed="0")
    tight = answer(bank="0.8", weed="0", rise="0.1")
    for row in tight["rows"]:
        if row["suits"]:
            assert row["rise_m"] <= 0.1 + 1e-9
    assert sum(r["suits"] for r in tight["rows"]) < sum(r["suits"] for r in free["rows"])
    assert any("raises the water upstream" in r["reason"] for r in tight["rows"])


def test_surveyed_tail_depths_stand_in_for_the_race() -> None:
    told = answer(race="trap:b=0.8,m=1", tail="0.02:0.15; 0.1:0.30")
    assert "surveyed" in told["tail_note"]
    flows, depths = np.array(told["flows_m3s"]), np.array(told["tail_depths_m"])
    assert np.interp(0.1, flows, depths) == pytest.approx(0.30, abs=0.003)
    with pytest.raises(BadInput) as refused:
        answer(race="trap:b=0.8,m=1")
    assert refused.value.field == "race"


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"min": "0"}, "min"), ({"min": "-1"}, "min"), ({"max": "0.004"}, "max"),
        ({"min": ""}, "min"), ({"bank": "0"}, "bank"), ({"bank": "x"}, "bank"),
        ({"race": "pipe:D=1"}, "race"), ({"race": "trap:b=0.8"}, "race"),
        ({"race": "trap:b=0.8,m=1,colour=2"}, "race"), ({"race": "trap:b=0,m=0"}, "b"),
        ({"race": "trap:b=0.8,m=1,slope=0"}, "race slope"), ({"race": "rect:b=1,m=1"}, "race m"),
        ({"weed": "-1"}, "weed"), ({"rise": "-0.1"}, "rise"), ({"tail": "0.1"}, "tail"),
        ({"race": "trap:b=0.8,b=0.9,m=1"}, "race"), ({"max": "nan"}, "max"),
        ({"head_uncertainty": "-1"}, "head_uncertainty_m"),
    ],
)  # fmt: skip
def test_the_impossible_is_refused_with_a_remedy(changes: dict[str, str], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        answer(**changes)
    assert refused.value.field == field
    assert refused.value.remedy


def test_races_are_read() -> None:
    assert race("rect: b=120 cm; slope=0.001; n=0.02") == (Trapezoid(1.2, 0.0), 0.001, 0.02)
    assert race("tri:m=1.5,slope=0.001,n=0.02")[0] == Trapezoid(0.0, 1.5)
    assert tail("0.02:0.18, 0.1:330 mm") == ((0.02, 0.18), (0.1, 0.33))


@pytest.mark.parametrize(
    ("least", "most", "where", "bank"),
    [
        ("0.0001", "0.001", "rect:b=0.2,slope=0.01,n=0.012", "0.3"),
        ("0.5", "40", "trap:b=6,m=2,slope=0.0003,n=0.03", "3.5"),
        ("0.001", "0.05", "tri:m=1.5,slope=0.002,n=0.03", "0.6"),
        ("0.01", "0.3", "rect:b=1,slope=0.02,n=0.012", "0.8"),
    ],
)
def test_any_race_gets_an_answer(least: str, most: str, where: str, bank: str) -> None:
    rows = answer(min=least, max=most, race=where, bank=bank)["rows"]
    assert len(rows) >= 20
    assert all(r["suits"] or r["reason"] for r in rows)
