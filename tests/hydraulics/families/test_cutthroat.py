"""Cutthroat flumes against published coefficients and derived figures."""

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.families.cutthroat import SIZES, Cutthroat
from app.hydraulics.families.registry import build
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flag, Flow
from tests.hydraulics.checks import Check, checks

FT = 0.3048


def flume_of(given: dict[str, float | str]) -> Cutthroat:
    if "size" in given:
        built = build("cutthroat", {"size": given["size"]})
    else:
        width = float(given.get("W_ft", 1.0))
        built = build("cutthroat", {"L": float(given["L_ft"]) * FT, "W": width * FT})
    assert isinstance(built, Cutthroat)
    return built


@pytest.mark.parametrize("check", checks("cutthroat"), ids=str)
def test_published_figures(check: Check) -> None:
    flume, given = flume_of(check.inputs), check.inputs
    match check.quantity:
        case "C_SI":
            found = flume.C
        case "C_US":
            found = flume.C / FT ** (3 - flume.n)
        case "factor":
            found = float(flume.drowned_factor(np.array(0.3), np.array(given["S"])))
        case _:
            rated = rate(flume, given["ha"], given.get("hb"))
            found = float(rated.discharge_m3s)
    if check.quantity == "factor":
        assert found == pytest.approx(check.expected, abs=check.tolerance)
    else:
        assert found == pytest.approx(check.expected, rel=check.tolerance)


def test_the_smallest_flume_uses_its_own_coefficient_and_is_flagged() -> None:
    small = flume_of({"size": "1.5ftx1in"})
    coefficient_us = small.C / FT ** (3 - 2.15)
    assert coefficient_us == pytest.approx(0.494, rel=1e-12)
    assert rate(small, 0.1).flags & Flag.GEOMETRY_OUTSIDE_LIMITS
    assert not rate(flume_of({"size": "1.5ftx2in"}), 0.1).flags & Flag.GEOMETRY_OUTSIDE_LIMITS


def test_tested_sizes_are_not_flagged_and_lengths_between_are() -> None:
    for key in SIZES:
        flume = flume_of({"size": key})
        flagged = bool(rate(flume, 0.3 * flume.length_m).flags & Flag.GEOMETRY_OUTSIDE_LIMITS)
        assert flagged == (key == "1.5ftx1in")
    between = build("cutthroat", {"L": 1.1, "W": 0.3})
    assert rate(between, 0.3).flags & Flag.GEOMETRY_OUTSIDE_LIMITS
    lower = rate(build("cutthroat", {"L": 0.9144, "W": 0.3}), 0.3).discharge_m3s
    upper = rate(build("cutthroat", {"L": 1.3716, "W": 0.3}), 0.3).discharge_m3s
    assert min(lower, upper) < rate(between, 0.3).discharge_m3s < max(lower, upper)
    built = build("cutthroat", {"size": "3ft x 8in", "L": 0.915})  # as built, 1 mm long
    assert not rate(built, 0.3).flags & Flag.GEOMETRY_OUTSIDE_LIMITS


@pytest.mark.parametrize("length", [1.5, 2.0, 3.0, 4.5, 6.0, 9.0])
def test_drowning_starts_smoothly_and_never_adds_flow(length: float) -> None:
    flume = flume_of({"L_ft": length})
    S = np.linspace(0, 0.95, 2000)
    factor = flume.drowned_factor(np.full(S.shape, 0.3), S)
    assert np.all(np.diff(factor) <= 0)
    assert np.all(factor[flume.limit >= S] == 1.0)
    assert np.abs(np.diff(factor)).max() < 0.003  # no jump at the onset


def test_states_of_flow() -> None:
    rated = rate(flume_of({"size": "3ftx8in"}), [0.3] * 4, [np.nan, 0.1, 0.25, 0.29])
    assert [Flow(int(s)).word for s in rated.flow] == [
        "assumed free",
        "free",
        "submerged, corrected",
        "submerged, not determined",
    ]


def test_impossible_dimensions_are_refused() -> None:
    for dims, field in (
        ({"L": 5.0, "W": 0.3}, "L"),
        ({"L": 0.9}, "W"),
        ({"size": "5ftx1in"}, "size"),
    ):
        with pytest.raises(BadInput) as refusal:
            build("cutthroat", dims)
        assert refusal.value.field == field
