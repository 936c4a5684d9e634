"""The water upstream of a candidate: head pond, level at each section, freeboard, filling time.

Gradually varied flow by the standard step from the level that the structure holds; in an even race
its length is worked out again by the direct step, as a check.
"""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.channel.at_flow import critical_at, curve_kind
from app.hydraulics.channel.direct_step import direct_step
from app.hydraulics.channel.head_pond import HeadPond, fill_time_s, head_pond
from app.hydraulics.channel.sections import Trapezoid
from app.hydraulics.channel.stations import Station
from app.hydraulics.channel.uniform import normal_depth
from app.hydraulics.families.registry import build
from app.services.plans.inputs import PlanInputs

REACH = 6.0  # an even race is looked at so many depths over slope upstream
SHOWN = 5  # places of an even race, over the longest pond
CHECK_STEPS = 400
NOTHING_KNOWN = "not worked out: give the race's width, slope and roughness"


def upstream(asked: PlanInputs, one: dict[str, Any]) -> dict[str, Any]:
    """Return what the water does upstream of a candidate that was judged, as plain values.

    `problem` is empty, or says why there is none.
    """
    flows = one["flows"]
    q, level, tail = (
        np.array([f[key] for f in flows], float)
        for key in ("discharge_m3s", "upstream_level_m", "tail_level_m")
    )
    if asked.section is None or asked.roughness is None or not np.all(np.isfinite(level)):
        return {"problem": NOTHING_KNOWN}
    try:
        stations = _stations(asked, float(level.max()))
        former = tail if np.all(tail > asked.floor_rl_m) else None
        pond = head_pond(stations, q, level, former_level_m=former)
        fills = [_fill_min(one, stations, i, None if former is None else former[i])
                 for i in range(q.size)]  # fmt: skip
    except BadInput as error:
        return {"problem": f"not worked out: {error.rule}"}
    return {
        "problem": "",
        "even": not asked.sections,
        "flows": [
            {
                "length_m": pond.length_m[i],
                "beyond_survey": bool(pond.beyond_survey[i]),
                "volume_m3": pond.volume_m3[i],
                "extra_m3": pond.extra_m3[i],
                "surface_m2": pond.surface_m2[i],
                **_least_freeboard(pond, i),
                "fill_min": fills[i],
                "held_critical": bool(pond.raised.critical[i].any()),
            }
            for i in range(q.size)
        ],
        "sections": _sections(asked, stations, pond),
        "check": _check(asked, pond),
    }


def _stations(asked: PlanInputs, level: float) -> list[Station]:
    """Return the spot and what was surveyed upstream of it, or an even race far enough."""
    assert asked.section is not None
    assert asked.roughness is not None
    bank = float("nan") if asked.bank_rl_m is None else asked.bank_rl_m
    spot = Station(0.0, asked.floor_rl_m, asked.section, asked.roughness, bank, "the spot")
    found = [spot]
    for one in asked.sections:
        section = asked.section
        if one.width_m is not None and isinstance(section, Trapezoid):
            section = Trapezoid(one.width_m, section.m)
        known = float("nan") if one.bank_rl_m is None else one.bank_rl_m
        found.append(
            Station(one.chainage_m, one.bed_rl_m, section, asked.roughness, known, one.name)
        )
    if asked.sections:
        return found
    if asked.bed_slope is None:
        raise BadInput("bed_slope", "", "give the bed slope, or sections upstream", "Level them.")
    far = REACH * (level - asked.floor_rl_m) / asked.bed_slope
    end = replace(spot, chainage_m=far, bed_m=asked.floor_rl_m + far * asked.bed_slope, name="")
    return [spot, end]


def _fill_min(
    one: dict[str, Any], stations: Sequence[Station], i: int, former: float | None
) -> float | None:
    """Return the minutes from a dry race to 99 % of the flow over the crest."""
    device, crest, flow = (
        build(one["family"], dict(one["dims"])),
        one["crest_rl_m"],
        one["flows"][i],
    )

    def outflow(level: Floats) -> Floats:
        heads = np.maximum(level - crest, 0.0)
        return np.where(heads > 0, np.nan_to_num(device.free_flow(heads).discharge_m3s), 0.0)

    seconds = fill_time_s(
        stations, flow["discharge_m3s"], flow["upstream_level_m"], outflow,
        former_level_m=former, from_dry=True,
    )  # fmt: skip
    return seconds / 60.0 if np.isfinite(seconds) else None


def _least_freeboard(pond: HeadPond, i: int) -> dict[str, Any]:
    """Return the least freeboard within the pond, and where; beyond it the structure adds none."""
    x = pond.raised.chainage_m
    end = x[-1] if np.isnan(pond.length_m[i]) else pond.length_m[i]
    board = np.where(x <= end, pond.freeboard_m[i], np.nan)
    if not np.isfinite(board).any():
        return {"freeboard_m": None, "freeboard_at_m": None}
    at = int(np.nanargmin(board))
    return {"freeboard_m": board[at], "freeboard_at_m": x[at]}


def _sections(
    asked: PlanInputs, stations: Sequence[Station], pond: HeadPond
) -> list[dict[str, Any]]:
    """Return bed, bank and levels at each surveyed section, or over the longest even pond."""
    if asked.sections:
        places = np.array([s.chainage_m for s in stations])
        names = [s.name for s in stations]
    else:
        longest = np.nanmax(np.append(pond.length_m, 0.0))
        places = np.linspace(0.0, longest, SHOWN) if longest > 0 else np.zeros(1)
        names = ["the spot", *[""] * (places.size - 1)]
    x = pond.raised.chainage_m
    levels = pond.raised.level_at(places)
    before = None if pond.before is None else pond.before.level_at(places)
    beds, banks = (np.interp(places, x, v) for v in (pond.raised.bed_m, pond.raised.bank_m))
    return [
        {
            "name": names[k],
            "chainage_m": places[k],
            "bed_rl_m": beds[k],
            "bank_rl_m": banks[k],
            "levels_m": levels[:, k].tolist(),
            "rise_m": None if before is None else levels[-1, k] - before[-1, k],
            "freeboard_m": banks[k] - levels[-1, k],
        }
        for k in range(places.size)
    ]


def _check(asked: PlanInputs, pond: HeadPond) -> dict[str, Any] | None:
    """Return curve and length at the greatest flow by the direct step; None where it cannot be."""
    length, flow = float(pond.length_m[-1]), float(pond.raised.discharge_m3s[-1])
    if asked.sections or asked.bed_slope is None or not length > 0:
        return None
    assert asked.section is not None
    assert asked.roughness is not None
    start = float(pond.raised.depth_m[-1, 0])
    end = float(np.interp(length, pond.raised.chainage_m, pond.raised.depth_m[-1]))
    normal = float(normal_depth(asked.section, flow, asked.roughness, asked.bed_slope))
    kind = curve_kind(asked.bed_slope, start, normal, float(critical_at(asked.section, flow)))
    try:
        places = direct_step(
            asked.section, flow, asked.roughness, asked.bed_slope,
            np.linspace(start, end, CHECK_STEPS),
        )  # fmt: skip
    except BadInput:
        return {"curve": kind, "length_m": None}
    return {"curve": kind, "length_m": float(places[-1])}
