"""Charts of a rating and its gaugings as plain data; the page only turns it into pixels.

A chart is {"x", "y": axes; "bands", "lines", "points", "uprights"}: figures already in the unit
of the axis, words already as people read them.
"""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from app.hydraulics.structure.device import Device
from app.language import words
from app.records.sites import Rating, Site
from app.services.fits.tests import Point, Standing
from app.services.ratings.curve import curve_at, device_or_none, nodes

M_TO_MM = 1000.0


def flow_unit(largest_m3s: float) -> tuple[str, float]:
    """Return the unit of a chart of discharge and its factor from m3/s."""
    return ("m³/s", 1.0) if largest_m3s >= 1.0 else ("L/s", 1000.0)


def figures(values: ArrayLike) -> list[float | None]:
    """Return numbers for JSON; what is not finite becomes null, a hole in a line."""
    return [v if math.isfinite(v) else None for v in np.asarray(values, float).ravel().tolist()]


def axis(label: str, low: float, high: float, *, log: bool = False, time: bool = False) -> Any:
    """Return an axis with its range; of a logarithmic one also the figures to write along it."""
    said: dict[str, Any] = {"label": label, "low": low, "high": high, "log": log, "time": time}
    if log:
        marks = [m * 10.0**k for k in range(-6, 7) for m in (1.0, 2.0, 5.0)]
        said["ticks"] = [mark for mark in marks if low <= mark <= high]
    return said


def reach(values: Sequence[float | None], *, log: bool, floor: float = 0.0) -> tuple[float, float]:
    """Return a range with room around the values."""
    known = [v for v in values if v is not None]
    if not known:
        return (1.0, 10.0) if log else (0.0, 1.0)
    if log:
        above = [v for v in known if v > 0]
        return (min(above) / 1.15, max(above) * 1.15) if above else (1.0, 10.0)
    high, low = max(known), min(*known, floor)
    room = 0.06 * (high - low) or 1.0
    return (low - room if low < 0 else low), high + room


def line(heads_m: ArrayLike, flows: ArrayLike, name: str, style: str = "whole") -> dict[str, Any]:
    return {"x": figures(np.asarray(heads_m) * M_TO_MM), "y": figures(flows), "name": name,
            "style": style}  # fmt: skip


def band(x: ArrayLike, low: ArrayLike, high: ArrayLike, name: str, shade: str) -> dict[str, Any]:
    return {"x": figures(x), "low": figures(low), "high": figures(high), "name": name,
            "shade": shade}  # fmt: skip


def mark_of(point: Point) -> str:
    return point.one.word if point.counted else "not counted"


def told(point: Point, site: Site) -> str:
    """Return a gauging as the line under a chart says it."""
    one = point.one
    said = [
        words.site_time(one.started_at, site.utc_offset_min),
        one.method,
        f"head {words.millimetres(one.head_mean_m)}",
        f"gauged {words.discharge(one.discharge_m3s, one.uncertainty_pct)}",
    ]
    if one.deviation_pct is not None:
        said.append(f"{one.deviation_pct:+.1f} % of the rating")
    said.append(f"not counted: {point.why_not}" if point.why_not else one.word)
    return " · ".join(said)


def charts(found: Standing, *, log: bool) -> dict[str, Any]:
    """Return the three charts of a standing: the curve, deviations by time, deviations by head."""
    device = device_or_none(found.rating)
    heads = [p.one.head_mean_m for p in found.points if p.one.head_mean_m is not None]
    answer: dict[str, Any] = {"utc_offset_min": found.site.utc_offset_min}
    if device is None or found.rating is None:
        return answer
    answer["curve"] = curve_chart(found, device, heads, log=log)
    answer |= deviation_charts(found, device, heads)
    return answer


def curve_chart(
    found: Standing, device: Device, heads: Sequence[float], *, log: bool
) -> dict[str, Any]:
    rated = curve_at(device, found.structure, nodes(device, heads))
    gauged = [p for p in found.points if p.one.discharge_m3s and p.one.head_mean_m]
    flows = [p.one.discharge_m3s or 0.0 for p in gauged]
    unit, scale = flow_unit(max([float(np.nanmax(rated.discharge_m3s)), *flows]))
    spread = rated.uncertainty_pct / 100.0
    q = rated.discharge_m3s * scale
    # A wide band may reach to nothing; a logarithmic axis has no nothing.
    low = np.maximum(q * (1.0 - spread), q * 0.02)
    points = []
    for p in gauged:
        value = (p.one.discharge_m3s or 0.0) * scale
        off = value * (p.one.uncertainty_pct or 0.0) / 100.0
        points.append(
            mark(
                p,
                found.site,
                (p.one.head_mean_m or 0.0) * M_TO_MM,
                value,
                value - off,
                value + off,
            )
        )
    x = reach([*figures(rated.head_m * M_TO_MM)], log=log)
    y = reach([*figures(q), *(p["high"] for p in points)], log=log)
    return {
        "x": axis("Head over the crest, mm", *x, log=log),
        "y": axis(f"Discharge, {unit}", *y, log=log),
        "bands": [band(rated.head_m * M_TO_MM, low, q * (1.0 + spread), "rating, k = 2", "soft")],
        "lines": [line(rated.head_m, q, "rating, free flow")],
        "points": points,
        "uprights": limits(device),
    }


def limits(device: Device) -> list[dict[str, Any]]:
    """Return the ends of a rating's range as uprights of a chart over head."""
    ends = ((device.head_min_m, "least head"), (device.head_max_m, "most head"))
    return [{"x": head * M_TO_MM, "name": name} for head, name in ends]


def deviation_charts(found: Standing, device: Device, heads: Sequence[float]) -> dict[str, Any]:
    judged = [p for p in found.points if p.one.deviation_pct is not None]
    span = nodes(device, heads)
    rated = curve_at(device, found.structure, span)
    spread = rated.uncertainty_pct
    by_head, by_time = [], []
    for p in judged:
        value, off = p.one.deviation_pct or 0.0, p.spread_pct or 0.0
        ends = (value, value - off, value + off)
        by_head.append(mark(p, found.site, (p.one.head_mean_m or 0.0) * M_TO_MM, *ends))
        by_time.append(mark(p, found.site, p.one.started_at.timestamp(), *ends))
    bounds = [v for p in by_head for v in (p["low"], p["high"])]
    most = min(max([10.0, *(1.1 * abs(v) for v in bounds)]), 80.0)
    y = axis("Deviation, %", -most, most)
    times = [p["x"] for p in by_time]
    first, last = (min(times), max(times)) if times else (0.0, 1.0)
    room = max(0.04 * (last - first), 86_400.0 * 7)
    zero = {"name": "the rating", "style": "whole"}
    return {
        "time": {
            "x": axis("", first - room, last + room, time=True),
            "y": y,
            "bands": [],
            "lines": [{"x": [first - room, last + room], "y": [0.0, 0.0], **zero}],
            "points": sorted(by_time, key=lambda p: p["x"]),
            "uprights": begun(found.ratings, first - room, last + room),
        },
        "head": {
            "x": axis("Head over the crest, mm", *reach(figures(span * M_TO_MM), log=False)),
            "y": y,
            "bands": [band(span * M_TO_MM, -spread, spread, "rating, k = 2", "soft")],
            "lines": [{"x": figures(span[[0, -1]] * M_TO_MM), "y": [0.0, 0.0], **zero}],
            "points": sorted(by_head, key=lambda p: p["x"]),
            "uprights": limits(device),
        },
    }


def begun(ratings: Sequence[Rating], first_s: float, last_s: float) -> list[dict[str, Any]]:
    """Return the beginnings of ratings as uprights of a chart over time."""
    inside = [r for r in ratings if first_s <= r.valid_from.timestamp() <= last_s]
    return [{"x": r.valid_from.timestamp(), "name": f"rating {r.id} begins"} for r in inside]


def mark(p: Point, site: Site, x: float, y: float, low: float, high: float) -> dict[str, Any]:
    return {"x": x, "y": y, "low": low, "high": high, "mark": mark_of(p), "text": told(p, site),
            "href": f"/check-gaugings/{p.one.entry.id}"}  # fmt: skip
