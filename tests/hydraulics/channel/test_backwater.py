"""Backwater, direct step and head pond against a published curve and a general ODE solver."""

from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from app.errors import BadInput
from app.hydraulics.base.units import CUBIC_FOOT, FOOT, G
from app.hydraulics.channel.at_flow import critical_at, curve_kind, friction_slope
from app.hydraulics.channel.backwater import Backwater, backwater
from app.hydraulics.channel.direct_step import direct_step
from app.hydraulics.channel.head_pond import HeadPond, fill_time_s, former_level, head_pond
from app.hydraulics.channel.sections import Circle, Compound, Rectangle, Section, Trapezoid
from app.hydraulics.channel.stations import Station
from app.hydraulics.channel.uniform import normal_depth
from tests.hydraulics.checks import Check, checks

# Chow 1959, Open-Channel Hydraulics, examples 10-1 and 10-7, from memory: a trapezoid of 20 ft
# with sides 2 to 1, bed slope 0.0016, n 0.025, 400 ft3/s, alpha 1.10; a dam holds 5 ft.
TRAP = Trapezoid(20 * FOOT, 2.0)
FLOW, SLOPE, N, ALPHA = 400 * CUBIC_FOOT, 0.0016, 0.025, 1.10
DEPTHS_FT = np.array(
    [5.0, 4.8, 4.6, 4.4, 4.2, 4.0, 3.8, 3.7, 3.6, 3.55, 3.5, 3.47, 3.44, 3.42, 3.4]
)
FAR_M = 3000 * FOOT


def even(length_m: float = FAR_M, slope: float = SLOPE, section: Section = TRAP) -> list[Station]:
    return [
        Station(0.0, 10.0, section, N, 12.0),
        Station(length_m, 10.0 + slope * length_m, section, N, 12.0 + slope * length_m),
    ]


@pytest.mark.parametrize("check", checks("backwater"), ids=str)
def test_the_published_curve(check: Check) -> None:
    depth_m = check.inputs.get("depth_ft", 0.0) * FOOT
    surface = backwater(even(), FLOW, 10.0 + 5 * FOOT, alpha=ALPHA)
    match check.quantity:
        case "normal_ft":
            found = float(normal_depth(TRAP, FLOW, N, SLOPE)) / FOOT
        case "critical_ft":
            found = float(critical_at(TRAP, FLOW, ALPHA)) / FOOT
        case "friction_slope":
            found = float(friction_slope(TRAP, depth_m, FLOW, N))
        case "direct_ft":
            depths = [d * FOOT for d in DEPTHS_FT if d * FOOT >= depth_m - 1e-9]
            found = float(direct_step(TRAP, FLOW, N, SLOPE, depths, ALPHA)[-1]) / FOOT
        case _:
            depth = surface.depth_m[0]
            found = float(np.interp(-depth_m, -depth, surface.chainage_m)) / FOOT
    assert found == pytest.approx(check.expected, rel=check.tolerance)


def test_standard_and_direct_step_agree() -> None:
    depths = np.linspace(5.0, 3.40, 400) * FOOT
    direct = direct_step(TRAP, FLOW, N, SLOPE, depths, ALPHA)
    surface = backwater(even(), FLOW, 10.0 + 5 * FOOT, alpha=ALPHA)
    there = np.interp(direct, surface.chainage_m, surface.depth_m[0])
    assert there == pytest.approx(depths, abs=2e-4)
    kinds = {
        curve_kind(SLOPE, d, float(normal_depth(TRAP, FLOW, N, SLOPE)), 2.22 * FOOT) for d in there
    }
    assert kinds == {"M1"}


def by_ode(
    stations: list[Station], flow: float, level: float, at: np.ndarray, alpha: float
) -> np.ndarray:
    """The same equation, dH/dx = Sf upstream, by a general solver; linear between stations."""
    x = np.array([s.chainage_m for s in stations])
    beds = np.array([s.bed_m for s in stations])
    rough = np.array([s.roughness for s in stations])

    def section_at(place: float, depth: float) -> tuple[float, float]:
        i = min(max(int(np.searchsorted(x, place)) - 1, 0), len(x) - 2)
        share = (place - x[i]) / (x[i + 1] - x[i])
        y = np.asarray(depth)
        one, two = stations[i].section, stations[i + 1].section
        area = float(one.area(y)) * (1 - share) + float(two.area(y)) * share
        around = float(one.wetted_perimeter(y)) * (1 - share)
        return area, around + float(two.wetted_perimeter(y)) * share

    def depth_of(place: float, head: float) -> float:
        bed = float(np.interp(place, x, beds))

        def gap(y: float) -> float:
            return bed + y + alpha * (flow / section_at(place, y)[0]) ** 2 / (2 * G) - head

        # the subcritical root lies above the depth of least energy
        grid = np.linspace(0.02, head - bed, 4000)
        least = grid[np.argmin([gap(y) for y in grid[::40]]) * 40]
        return float(brentq(gap, least, head - bed, xtol=1e-13))

    def grow(place: float, head: np.ndarray) -> list[float]:
        area, around = section_at(place, depth_of(place, float(head[0])))
        n = float(np.interp(place, x, rough))
        return [(n * flow) ** 2 * around ** (4 / 3) / area ** (10 / 3)]

    area0, _ = section_at(0.0, level - beds[0])
    head0 = level + alpha * (flow / area0) ** 2 / (2 * G)
    heads = [head0]
    for begin, end in pairwise(x):
        inside = at[(at > begin) & (at <= end)]
        found = solve_ivp(
            grow, (begin, end), [heads[-1]], t_eval=np.unique(np.append(inside, end)),
            rtol=1e-9, atol=1e-10,
        )  # fmt: skip
        heads += list(found.y[0])
    places = np.concatenate(([0.0], np.unique(np.concatenate([at, x[1:]]))))
    return np.array(
        [
            float(np.interp(p, x, beds)) + depth_of(p, h)
            for p, h in zip(places, heads, strict=True)
            if p in at
        ]
    )


def test_an_even_race_agrees_with_an_ode_solver() -> None:
    at = np.array([50.0, 200.0, 450.0, 700.0])
    surface = backwater(even(), FLOW, 10.0 + 5 * FOOT, alpha=ALPHA)
    expected = by_ode(even(), FLOW, 10.0 + 5 * FOOT, at, ALPHA)
    assert surface.level_at(at)[0] == pytest.approx(expected, abs=2e-4)


def test_an_uneven_race_agrees_with_an_ode_solver() -> None:
    hollow = Compound(((0, 0.9), (0.4, 0.15), (0.8, 0.0), (1.3, 0.1), (2.0, 1.0)))
    stations = [
        Station(0.0, 50.00, Trapezoid(0.8, 1.0), 0.030),
        Station(40.0, 50.01, Trapezoid(1.2, 0.5), 0.035),
        Station(75.0, 50.08, hollow, 0.040),
        Station(130.0, 50.09, Trapezoid(0.6, 1.5), 0.030),
    ]
    at = np.array([20.0, 60.0, 75.0, 120.0])
    surface = backwater(stations, 0.12, 50.55)
    expected = by_ode(stations, 0.12, 50.55, at, 1.0)
    assert surface.level_at(at)[0] == pytest.approx(expected, abs=2e-4)


def test_half_the_step_moves_nothing() -> None:
    steps = [backwater(even(), FLOW, 11.5, alpha=ALPHA, step_m=s) for s in (16.0, 8.0)]
    at = np.linspace(0, 900, 19)
    assert steps[0].level_at(at) == pytest.approx(steps[1].level_at(at), abs=1e-4)


def test_many_flows_are_their_single_flows() -> None:
    flows, levels = np.array([2.0, 5.0, 11.3]), np.array([11.0, 11.3, 11.6])
    whole = backwater(even(), flows, levels)
    for i in range(3):
        one = backwater(even(), flows[i], levels[i], step_m=float(np.diff(whole.chainage_m)[0]))
        assert whole.level_at([300.0, 900.0])[i] == pytest.approx(
            one.level_at([300.0, 900.0])[0], abs=1e-9
        )


def test_uniform_flow_stays_uniform() -> None:
    depth = float(normal_depth(TRAP, FLOW, N, SLOPE))
    surface = backwater(even(), FLOW, 10.0 + depth)
    assert surface.depth_m == pytest.approx(depth, abs=1e-6)


def test_a_still_pond_is_level() -> None:
    surface = backwater(even(300.0), 1e-6, 11.5)
    assert surface.level_m == pytest.approx(11.5, abs=1e-6)


def test_eddy_losses_raise_the_water_upstream_of_a_narrowing() -> None:
    stations = [
        Station(0.0, 10.0, Rectangle(1.0), 0.02),
        Station(30.0, 10.0, Rectangle(3.0), 0.02),
    ]
    plain = backwater(stations, 1.0, 11.0)
    lossy = backwater(stations, 1.0, 11.0, closing_loss=0.1, opening_loss=0.3)
    rise = float(lossy.level_m[0, -1] - plain.level_m[0, -1])
    change = (1.0 - (1.0 / 3.0) ** 2) / (2 * G)  # of the velocity head
    assert rise == pytest.approx(0.1 * change, rel=0.15)


def test_a_steep_race_is_held_at_critical_and_says_so() -> None:
    surface = backwater(even(200.0, 0.03), FLOW, 12.0)
    assert not surface.critical[0, 0]
    assert surface.critical[0, -1]
    assert surface.depth_m[0, -1] == pytest.approx(float(critical_at(TRAP, FLOW)), rel=1e-9)
    assert np.all(surface.froude[0] <= 1.0 + 1e-6)


@pytest.mark.parametrize("section", [TRAP, Rectangle(0.7), Circle(1.2)], ids=str)
def test_critical_depth_at_a_flow(section: Section) -> None:
    flows = np.array([0.01, 0.1, 0.5])
    y = critical_at(section, flows)
    assert flows**2 * section.top_width(y) == pytest.approx(G * section.area(y) ** 3, rel=1e-9)
    assert critical_at(section, [0.0, -1.0]).tolist() == [0.0, 0.0]
    assert np.isnan(critical_at(section, np.nan))


def test_a_pipe_that_is_full_is_refused() -> None:
    with pytest.raises(BadInput) as refused:
        backwater(even(section=Circle(0.5)), 100.0, 10.4)
    assert refused.value.field == "stations"


@pytest.mark.parametrize(
    ("slope", "depth", "normal", "critical", "kind"),
    [
        (0.001, 2.0, 1.0, 0.5, "M1"), (0.001, 0.7, 1.0, 0.5, "M2"), (0.001, 0.3, 1.0, 0.5, "M3"),
        (0.02, 2.0, 0.5, 1.0, "S1"), (0.02, 0.7, 0.5, 1.0, "S2"), (0.02, 0.3, 0.5, 1.0, "S3"),
        (0.01, 2.0, 1.0, 1.0, "C1"), (0.01, 0.5, 1.0, 1.0, "C3"), (0.0, 2.0, np.nan, 1.0, "H2"),
        (0.0, 0.5, np.nan, 1.0, "H3"), (-0.001, 2.0, np.nan, 1.0, "A2"),
        (-0.001, 0.5, np.nan, 1.0, "A3"), (0.001, 1.0, 1.0, 0.5, "uniform"),
    ],
)  # fmt: skip
def test_curves_have_their_names(
    slope: float, depth: float, normal: float, critical: float, kind: str
) -> None:
    # Chow 1959, table 9-1, from memory
    assert curve_kind(slope, depth, normal, critical) == kind


def test_the_pond_ends_where_the_rise_is_a_hundredth() -> None:
    pond = head_pond(even(), FLOW, 10.0 + 5 * FOOT, alpha=ALPHA)
    normal = float(normal_depth(TRAP, FLOW, N, SLOPE))
    depths = np.linspace(5.0 * FOOT, 1.01 * normal, 500)
    expected = direct_step(TRAP, FLOW, N, SLOPE, depths, ALPHA)[-1]
    assert pond.length_m[0] == pytest.approx(expected, rel=2e-3)
    assert not pond.beyond_survey[0]
    assert pond.freeboard_m[0, 0] == pytest.approx(2.0 - 5 * FOOT)
    assert pond.least_freeboard_m[0] == pytest.approx(2.0 - 5 * FOOT)
    assert pond.least_freeboard_at_m[0] == 0.0


def test_volume_of_a_level_pool_in_a_rectangle() -> None:
    # nearly still water: a wedge of 0.9 m at the structure over a bed of 1 in 100 (derived)
    stations = even(200.0, 0.01, Rectangle(2.0))
    pond = head_pond(stations, 1e-4, 10.9, step_m=0.5)
    assert pond.volume_m3[0] == pytest.approx(0.5 * 0.9 * 90.0 * 2.0, rel=0.01)
    # a film of 5 mm runs into it, so that a hundredth of its depth is felt a little farther
    assert 90.0 < pond.length_m[0] < 97.0
    assert pond.surface_m2[0] == pytest.approx(2.0 * pond.length_m[0], rel=1e-6)


def test_what_is_not_known_is_not_given() -> None:
    flat = even(100.0, 0.0)
    pond = head_pond(flat, 2.0, 11.0)
    assert np.isnan(pond.length_m[0])
    assert np.isnan(pond.extra_m3[0])
    assert pond.volume_m3[0] > 0
    short = head_pond(even(100.0), FLOW, 11.5)
    assert short.beyond_survey[0]
    assert np.isnan(short.length_m[0])
    unseen = [Station(s.chainage_m, s.bed_m, s.section, s.roughness) for s in even()]
    assert np.isnan(head_pond(unseen, FLOW, 11.5).least_freeboard_m[0])
    assert np.isnan(former_level(flat, np.array([1.0]))[0])


def test_the_bank_may_be_lowest_anywhere() -> None:
    stations = [
        Station(0.0, 10.0, TRAP, N, 12.0),
        Station(100.0, 10.1, TRAP, N, 11.65, "gate"),
        Station(1200.0, 10.0 + 1200 * SLOPE, TRAP, N, 14.0),
    ]
    pond = head_pond(stations, FLOW, 11.5)
    assert pond.least_freeboard_at_m[0] == pytest.approx(100.0)
    gate = pond.raised.stations[1]
    assert pond.raised.names[1] == "gate"
    assert pond.least_freeboard_m[0] == pytest.approx(11.65 - pond.raised.level_m[0, gate])


def test_filling_agrees_with_an_ode_solver() -> None:
    section, flow = Rectangle(1.0), 0.12
    stations = [Station(0.0, 10.0, section, 0.03), Station(1500.0, 11.5, section, 0.03)]

    def over(level: np.ndarray) -> np.ndarray:
        return 0.8 * np.maximum(np.asarray(level) - 10.5, 0.0) ** 1.5

    settled = 10.5 + (flow / 0.8) ** (2 / 3)
    start = float(former_level(stations, np.array([flow]))[0])
    found = fill_time_s(stations, flow, settled, over, remaining=0.02)
    end = head_pond(stations, flow, settled).length_m[0]

    def volume(level: float) -> float:
        s = backwater(stations, flow, level)
        places = np.linspace(0.0, end, 400)
        return float(np.trapezoid(np.interp(places, s.chainage_m, s.area_m2[0]), places))

    grid = np.linspace(start, settled, 60)
    surface = np.gradient([volume(z) for z in grid], grid)

    def grow(_: float, z: np.ndarray) -> list[float]:
        return [(flow - float(over(z[0]))) / float(np.interp(z[0], grid, surface))]

    def enough(_: float, z: np.ndarray) -> float:
        return float(flow - over(z[0])) - 0.02 * flow

    enough.terminal = True  # type: ignore[attr-defined]
    ode = solve_ivp(grow, (0, 1e6), [start], events=enough, rtol=1e-6, atol=1e-7)
    assert found == pytest.approx(float(ode.t_events[0][0]), rel=0.02)
    dry = fill_time_s(stations, flow, settled, over, remaining=0.02, from_dry=True)
    assert dry == pytest.approx(found + (start - 10.0) * end / flow, rel=0.02)
    assert fill_time_s(stations, flow, start, over) == 0.0
    assert np.isnan(fill_time_s(even(100.0), FLOW, 11.6, over))


@pytest.mark.parametrize(
    ("work", "field"),
    [
        (lambda: backwater(even()[:1], FLOW, 11.0), "stations"),
        (lambda: backwater(even()[::-1], FLOW, 11.0), "stations"),
        (lambda: backwater(even(), 0.0, 11.0), "discharge_m3s"),
        (lambda: backwater(even(), FLOW, 9.9), "level_m"),
        (lambda: direct_step(TRAP, FLOW, N, SLOPE, [1.5, 0.9]), "depths_m"),
        (lambda: direct_step(TRAP, FLOW, N, SLOPE, [1.5, -0.9]), "depths_m"),
        (lambda: fill_time_s(even(), FLOW, 11.0, lambda z: z, remaining=2.0), "remaining"),
    ],
)
def test_the_impossible_is_refused(work: object, field: str) -> None:
    with pytest.raises(BadInput) as refused:
        work()  # type: ignore[operator]
    assert refused.value.field == field
    assert refused.value.remedy


def test_types_stay_arrays() -> None:
    pond = head_pond(even(), [2.0, FLOW], [11.2, 11.5])
    assert isinstance(pond, HeadPond)
    assert isinstance(pond.raised, Backwater)
    assert pond.rise_m.shape == pond.raised.level_m.shape
