"""Long-throated flumes against figures of ISO 4359 and of the general critical-flow method."""

import numpy as np
import pytest
from scipy.optimize import brentq

from app.errors import BadInput
from app.hydraulics.base.units import G
from app.hydraulics.families.long_throat.device import LongThroat, bos_coefficient
from app.hydraulics.families.long_throat.iso import IsoThroat
from app.hydraulics.families.long_throat.shared import ramp_loss
from app.hydraulics.families.registry import build
from app.hydraulics.rating.curve import interpolate, phone_table
from app.hydraulics.rating.inverse import discharge_to_head
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device, Flag, Flow, flag_words
from tests.hydraulics.checks import Check, checks

KIND_KEYS = {"rect": "rect", "trap": "trap", "tri": "tri", "circ": "circle"}


def device_of(check: Check) -> Device:
    given = dict(check.inputs)
    if check.device == "iso4359":
        kind = given.pop("kind")
        given.pop("h")
        return build(f"long_throat_{kind}", given)
    throat, approach = given["throat"], given["approach"]
    dims = {
        "throat": KIND_KEYS[throat["kind"]],
        **{k: v for k, v in throat.items() if k in "bzD"},
        "L": given["L"],
        "p": given["p"],
        "approach": KIND_KEYS[approach["kind"]],
        "B": approach["b"],
        "B_m": approach.get("z", 0.0),
    }
    if "tail" in given:
        dims |= {"tail_B": given["tail"]["b"], "p2": given["p2"], "exit_slope": given["m"]}
    return build("long_throat", dims)


@pytest.mark.parametrize("check", checks("long_throat"), ids=str)
def test_published_figures(check: Check) -> None:
    given = check.inputs
    if check.quantity == "Cd" and check.device == "cd_bos":
        found = float(bos_coefficient(np.array(given["H1_over_L"])))
    elif check.quantity == "CD_rect":  # closed form with the head itself: a very wide approach
        wide = build("long_throat_rect", {"L": given["L"], "b": given["b"], "B": 100.0, "p": 50.0})
        found = float(rate(wide, given["h"]).detail["coefficient"])
    elif check.quantity == "ML":
        device = device_of(check)
        assert isinstance(device, LongThroat)
        found = float(device.limit_by_energy(np.array(given["h"])))
    else:
        rated = rate(device_of(check), given["h"])
        found = {
            "Q": rated.discharge_m3s,
            "H": rated.detail["total_head_m"],
            "Cd": rated.detail["coefficient"],
            "Cv": rated.detail["velocity_coefficient"],
        }[check.quantity].item()
    assert found == pytest.approx(check.expected, rel=check.tolerance)


# Rectangular throat b 0.4, L 0.8, B 0.8, p 0.1 m by both methods, L/s (derived, tabulated apart)
HEADS = np.array([0.06, 0.08, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40])
ISO_LS = np.array([9.38, 14.71, 20.81, 38.95, 60.64, 85.39, 112.88, 142.87, 175.16])
BOS_LS = np.array([9.18, 14.63, 20.74, 38.86, 60.60, 85.50, 113.24, 143.58, 176.33])


def test_table_by_both_methods() -> None:
    shape = {"b": 0.4, "L": 0.8, "B": 0.8, "p": 0.1}
    iso = rate(build("long_throat_rect", shape), HEADS)
    bos = rate(build("long_throat", shape | {"throat": "rect"}), HEADS)
    np.testing.assert_allclose(iso.discharge_m3s * 1000, ISO_LS, rtol=6e-4)
    np.testing.assert_allclose(bos.discharge_m3s * 1000, BOS_LS, rtol=6e-4)
    assert iso.detail["froude"][5] == pytest.approx(0.165, abs=0.0006)


def test_coefficient_uncertainties_as_printed() -> None:
    """ISO 4359: 1 + 20 (Cv - CD), 2.2 % for Cv 1.03, CD 0.97; Bos: 4.0 % at H1/L 0.5 (memory)."""
    iso = build("long_throat_rect", {"b": 0.4, "L": 0.8, "B": 0.8, "p": 0.1})
    rated = rate(iso, [0.2, 0.45])
    gap = rated.detail["velocity_coefficient"] - rated.detail["coefficient"]
    np.testing.assert_allclose(rated.parts["device"], 1.0 + 20.0 * gap + [0.0, 2.0])
    bos = build("long_throat", {"throat": "rect", "b": 0.4, "L": 0.8, "B": 50.0, "p": 20.0})
    found = rate(bos, [0.08, 0.4, 0.8]).parts["device"]
    np.testing.assert_allclose(found, [4.9, 4.0, 4.9], atol=0.06)


def test_narrowing_agrees_with_the_closed_forms() -> None:
    """Closed forms differ by 0.1 to 0.2 % for trapezoid and U (derived)."""
    trap = build("long_throat_trap", {"b": 0.3, "m": 0.5, "L": 1.0, "B": 50.0, "p": 10.0})
    closed = (1 - 0.006 * (np.sqrt(1.25) - 0.5) / 0.3) * (1 - 0.003 / 0.4) ** 1.5
    assert float(rate(trap, 0.4).detail["coefficient"]) == pytest.approx(closed, rel=0.003)


def test_scipy_finds_the_same_discharge() -> None:
    """Critical condition and total head solved by brentq, trapezoid with Bos Cd."""
    b, m, L, p, B, h = 0.25, 0.8, 0.7, 0.15, 0.6, 0.22

    def ideal(H: float) -> float:
        y = brentq(lambda d: d + d * (b + m * d) / (2 * (b + 2 * m * d)) - H, 1e-9, H, xtol=1e-14)
        return float(np.sqrt(G * (y * (b + m * y)) ** 3 / (b + 2 * m * y)))

    def flow(H: float) -> float:
        return (H / L - 0.07) ** 0.018 * ideal(H)

    area = B * (h + p)
    total = brentq(lambda H: h + flow(H) ** 2 / (2 * G * area**2) - H, h, 1.5 * h, xtol=1e-14)
    device = build(
        "long_throat",
        {"throat": "trap", "b": b, "m": m, "L": L, "p": p, "approach": "rect", "B": B},
    )
    rated = rate(device, h)
    assert float(rated.discharge_m3s) == pytest.approx(flow(total), rel=1e-9)
    assert float(rated.detail["total_head_m"]) == pytest.approx(total, rel=1e-9)


def test_ramp_losses_as_tabulated() -> None:
    """Loss xi at 1:1 to 1:10 (derived from the formula, from memory); abrupt 1.2."""
    assert [round(ramp_loss(m), 3) for m in (1, 2, 4, 6)] == pytest.approx(
        [0.45, 0.32, 0.16, 0.064], abs=0.006
    )
    assert ramp_loss(10) == pytest.approx(0.0, abs=0.01)
    assert ramp_loss(0) == 1.2


def test_lower_modular_limit_is_used_and_drowned_flow_is_not_determined() -> None:
    device = build(
        "long_throat", {"throat": "rect", "b": 0.4, "L": 0.8, "B": 0.8, "p": 0.1, "exit_slope": 6}
    )
    limits = device.compare_limits(np.array([0.25]))
    assert float(limits["modular_limit_by_energy"][0]) == pytest.approx(0.972, abs=0.002)
    assert float(device.modular_limit(np.array([0.25]))[0]) == 0.83
    rated = rate(device, [0.25, 0.25, 0.25], [0.15, 0.206, 0.22])
    assert [Flow(c) for c in rated.flow] == [
        Flow.FREE,
        Flow.ASSUMED_FREE,
        Flow.SUBMERGED_UNDETERMINED,
    ]
    assert "near the modular limit" in flag_words(rated.flags[1])
    assert np.isnan(rated.discharge_m3s[2])
    assert rated.detail["free_discharge_m3s"][2] == rated.discharge_m3s[0]


def test_iso_and_bos_limits_are_flagged_apart() -> None:
    device = build("long_throat", {"throat": "rect", "b": 0.4, "L": 0.8, "B": 0.8, "p": 0.1})
    rated = rate(device, [0.03, 0.07, 0.3, 0.45, 0.6, 0.9])
    words = [set(flag_words(bits)) for bits in rated.flags]
    assert words[0] == {"below range", "outside ISO limits", "outside Bos limits"}
    assert np.isnan(rated.discharge_m3s[0])  # H1/L under 0.07: Cd has no value
    assert Flow(rated.flow[0]) is Flow.NOT_RATED
    assert words[1] == {"below range", "outside Bos limits"}
    assert words[2] == set()
    assert words[3] == {"ISO extended range, 2 % added"}
    assert words[4] == {"outside ISO limits"}
    assert {"above range", "outside ISO limits", "outside Bos limits"} <= words[5]


def test_a_throat_too_wide_to_control_is_said_so() -> None:
    device = build("long_throat", {"throat": "trap", "b": 0.3, "m": 1, "L": 0.8, "B": 0.5})
    rated = rate(device, [0.4, 0.6])
    assert all(bits & Flag.NO_CONTROL for bits in rated.flags)
    assert np.isnan(rated.discharge_m3s).all()
    assert [Flow(c) for c in rated.flow] == [Flow.NOT_RATED, Flow.NOT_RATED]
    never = build("long_throat", {"throat": "tri", "m": 5, "L": 0.8, "B": 0.2})
    assert np.isnan(discharge_to_head(never, [0.1])).all()
    assert phone_table(never)["heads_m"] == []
    assert np.isnan(interpolate(phone_table(never), [0.1])).all()
    with pytest.raises(BadInput, match="wider than its approach"):
        build("long_throat_rect", {"b": 1.0, "L": 0.8, "B": 0.8})


def test_round_throat_near_full_and_ledges_are_flagged() -> None:
    pipe = build("long_throat", {"throat": "circle", "D": 0.3, "L": 0.4, "p": 0.05, "B": 0.6})
    flagged = rate(pipe, [0.15, 0.55]).flags & Flag.CONTROL_UNDEFINED
    assert [bool(f) for f in flagged] == [False, True]
    ledge = "0:0.5; 0:0.2; 0.5:0.2; 0.5:0; 0.8:0; 0.8:0.2; 1.3:0.2; 1.3:0.5"
    stepped = build(
        "long_throat",
        {"throat": "compound", "points": ledge, "L": 0.6, "p": 0.1, "B": 2.0},
    )
    heads = np.linspace(0.1, 0.5, 161)
    rated = rate(stepped, heads)
    band = (rated.flags & Flag.CONTROL_UNDEFINED) > 0
    assert band.any()
    assert not band[0]
    assert not band[-1]
    assert np.all(np.diff(rated.discharge_m3s) > 0)


def test_presets_fill_in_fixed_proportions_and_as_built_wins() -> None:
    """Portable sill bc 0.1 m at h 0.09 m: H1 0.0990 m (derived)."""
    sill = build("long_throat", {"size": "rbc100"})
    assert float(rate(sill, 0.09).detail["total_head_m"]) == pytest.approx(0.0990, abs=5e-5)
    assert sill.dims["L"] == pytest.approx(0.15)
    assert float(sill.modular_limit(np.array([0.08]))[0]) <= 0.85
    wider = build("long_throat", {"size": "RBC 100 mm", "b": 0.0995})
    assert wider.dims["b"] == 0.0995
    for size in sill.family.sizes:
        built = build("long_throat", {"size": size})
        heads = np.linspace(built.head_min_m, built.head_max_m, 40)
        assert np.all(np.diff(rate(built, heads).discharge_m3s) > 0)
        assert rate(built, heads).parts["device"].min() >= 5.0
        assert built.family.build(built.dims).dims == built.dims


@pytest.mark.parametrize(
    ("dims", "field"),
    [
        ({"throat": "trap", "b": 0.3, "L": 1.0, "B": 1.0}, "m"),
        ({"throat": "rect", "b": 0.3, "L": 1.0, "approach": "circle"}, "B_D"),
        ({"throat": "rect", "b": 0.3, "L": 1.0}, "B"),
        ({"throat": "rect", "b": -0.3, "L": 1.0, "B": 1.0}, "b"),
        ({"throat": "oval", "L": 1.0, "B": 1.0}, "throat"),
        ({"throat": "rect", "b": 0.3, "B": 1.0}, "L"),
        ({"throat": "rect", "b": 0.3, "L": 1.0, "B": 1.0, "colour": "red"}, "colour"),
    ],
)
def test_bad_geometry_names_the_dimension(dims: dict[str, str | float], field: str) -> None:
    with pytest.raises(BadInput) as refused:
        build("long_throat", dims)
    assert refused.value.field == field
    assert refused.value.remedy


def test_slope_of_the_rating_is_its_derivative() -> None:
    cases: tuple[tuple[str, dict[str, str | float]], ...] = (
        ("long_throat_u", {"D": 0.3, "L": 0.6, "B": 0.6, "p": 0.05}),
        ("long_throat", {"throat": "tri", "m": 1.0, "L": 0.6, "p": 0.1, "B": 1.2}),
    )
    for key, dims in cases:
        device = build(key, dims)
        assert isinstance(device, (IsoThroat, LongThroat))
        heads = np.linspace(device.head_min_m, device.head_max_m, 9)
        step = 1e-6
        up, down = (device.free_flow(heads + s).discharge_m3s for s in (step, -step))
        slope = device.free_flow(heads).log_slope_per_m
        assert slope is not None
        np.testing.assert_allclose(slope, np.log(up / down) / (2 * step), rtol=1e-6)


def test_iso_families_accept_what_their_shape_implies() -> None:
    plain = {"b": 0.3, "L": 0.6, "B": 0.6}
    stated = build("long_throat_rect", plain | {"throat": "rect", "approach": "rect"})
    assert stated.dims == build("long_throat_rect", plain).dims
    with pytest.raises(BadInput) as refused:
        build("long_throat_rect", plain | {"throat": "u"})
    assert refused.value.field == "throat"
