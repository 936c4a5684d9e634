"""Invented check gaugings of the demonstration: a dozen by several methods for two structures.

The flow "in truth" is the rating's with a share of error drawn from the plan; each method is then
observed backwards from it, with scatter of its own, and travels the same road as real ones.
"""

from datetime import datetime, timedelta
from typing import Any

import numpy as np
from sqlmodel import Session

from app.demo.entries import entry
from app.hydraulics.base.units import LITRE
from app.hydraulics.rating.rate import rate
from app.language.clock import iso
from app.records.people import Person
from app.records.sites import Structure
from app.services.gaugings.work import worked
from app.services.sites.dated import device_of, in_force
from app.services.sites.register import get_site
from app.services.sites.views import ratings_of, zeros_of

GAUGINGS_SEED = 20_260_702

WEED_PCT = -3.0  # what weed at the tail does to the flow in the weed months, over the correction

# day of the record, method, head in m, error of the rating "in truth" in %
PLANS: dict[str, list[tuple[int, str, float, float]]] = {
    "TANSY": [
        (24, "velocity_area", 0.235, 1.6),
        (71, "velocity_area", 0.312, 1.2),
        (126, "dilution_gulp", 0.187, -1.1),
        (170, "velocity_area", 0.171, 2.1),
        (206, "dilution_gulp", 0.158, -0.8),
        (255, "velocity_area", 0.244, 0.4),
        (318, "dilution_constant", 0.121, 0.9),
        (377, "velocity_area", 0.291, 1.9),
        (441, "velocity_area", 0.352, 0.6),
        (508, "float", 0.402, 3.0),
        (548, "dilution_gulp", 0.149, 1.3),
        (579, "portable", 0.093, -1.4),
        (640, "velocity_area", 0.268, -1.6),
        (702, "velocity_area", 0.224, -0.7),
    ],
    "MARROW": [
        (31, "velocity_area", 0.212, 4.6),
        (88, "velocity_area", 0.263, 6.1),
        (140, "dilution_gulp", 0.164, 5.2),
        (203, "dilution_constant", 0.118, 4.4),
        (262, "velocity_area", 0.236, 6.6),
        (331, "velocity_area", 0.302, 5.3),
        (384, "volumetric", 0.062, 5.8),
        (436, "velocity_area", 0.188, 6.9),
        (489, "portable", 0.094, 5.0),
        (545, "dilution_gulp", 0.147, 6.4),
        (601, "velocity_area", 0.281, 7.3),
        (655, "float", 0.333, 11.0),
        (698, "velocity_area", 0.205, 6.5),
    ],
}

Rng = np.random.Generator


def gauging_entries(
    session: Session,
    structure: Structure,
    drowns_in: list[int],
    crew: list[Person],
    begin: datetime,
    end: datetime,
) -> list[dict[str, Any]]:
    """Return the check gaugings of a site's plan as phones would send them; none without a plan."""
    site = get_site(session, structure.site_id)
    assert structure.id is not None
    zeros = zeros_of(session, [structure.id])
    rng = np.random.default_rng([GAUGINGS_SEED, site.id or 0])
    device = device_of(ratings_of(session, [structure.id])[0])
    found: list[dict[str, Any]] = []
    for day, method, head, error_pct in PLANS.get(site.code, []):
        at = begin + timedelta(days=day, hours=9, minutes=int(rng.integers(0, 240)))
        if at >= end - timedelta(hours=3):
            continue
        zero = in_force(zeros, at)
        assert zero is not None
        weedy = (at + timedelta(minutes=site.utc_offset_min)).month in drowns_in
        share = float(rng.uniform(0.74, 0.9) if weedy else rng.uniform(0.3, 0.55))
        error_pct = error_pct + (WEED_PCT if weedy else 0.0)
        tail = head * share if structure.tailwater_gauge else np.nan
        rated = rate(device, [head], [tail], 0.003, free_seen=[not structure.tailwater_gauge])
        true = float(rated.discharge_m3s[0]) * (1.0 + error_pct / 100.0)
        minutes = 8 if method == "volumetric" else 45
        ends = at + timedelta(minutes=minutes)
        staff = head - zero.offset_m
        drift = float(rng.normal(0.0, 0.0006))
        heads = [
            {"at": iso(moment), "staff_m": round(value, 3), "text": f"{value * 1000:.0f}"}
            for moment, value in ((at, staff - drift), (ends, staff + drift))
        ]
        water: dict[str, Any] = {"state": "clearly_free", "staff_m": None, "text": None}
        if structure.tailwater_gauge:
            level = round(tail - zero.tail_offset_m, 3)
            water |= {"state": "read", "staff_m": level, "text": f"{level * 1000:.0f}"}
        by = crew[int(rng.integers(0, len(crew)))]
        body = {
            "observed": OBSERVE[method](rng, true),
            "started_at": iso(at),
            "ended_at": iso(ends),
            "heads": heads,
            "tailwater": water,
            "control": ["weed" if weedy else "clear"],
            "observers": [],
            "instrument": INSTRUMENTS.get(method, {"kind": "", "serial": ""}),
            "note": "Weed cut below the tail (invented)" if weedy else "Invented",
            "cautions_read": True,
        }
        found.append(
            entry(
                rng,
                "check_gauging",
                site=site,
                structure=structure,
                by=by,
                at=at,
                visit_id=None,
                body=body,
            )
        )
    return found


INSTRUMENTS = {
    "velocity_area": {"kind": "propeller meter", "serial": "invented 7"},
    "dilution_gulp": {"kind": "conductivity meter", "serial": "invented 3"},
    "dilution_constant": {"kind": "fluorometer", "serial": "invented 2"},
    "portable": {"kind": "portable plate", "serial": "invented 1"},
}


def velocity_area(rng: Rng, true: float) -> dict[str, Any]:
    """Observe a section: even bed, a profile that slows at the banks, scaled to the flow."""
    width = round(0.9 + 4.0 * true, 1)
    depth = round(0.18 + 0.9 * true, 2)
    count = 19
    place = np.linspace(0.0, width, count + 2)
    shape = np.sin(np.pi * np.arange(count + 2) / (count + 1)) ** 0.45
    depths = np.round(depth * (0.75 + 0.25 * shape) * rng.normal(1.0, 0.01, count + 2), 3)
    profile = shape * rng.normal(1.0, 0.012, count + 2)

    def observed(speed: float) -> dict[str, Any]:
        inner = [
            {
                "distance_m": f"{place[k]:.3f}",
                "depth_m": f"{depths[k]:.3f}",
                "points": {"v06": {"velocity_ms": f"{speed * profile[k]:.4f}"}},
            }
            for k in range(1, count + 1)
        ]
        edges = [{"distance_m": f"{place[k]:.3f}", "depth_m": "0", "points": {}} for k in (0, -1)]
        return {
            "method": "velocity_area",
            "section": "mid",
            "edges": ["bank", "bank"],
            "verticals": [edges[0], *inner, edges[1]],
        }

    trial = worked(observed(1.0)).discharge_m3s
    return observed(true * float(rng.normal(1.0, 0.008)) / trial)


def volumetric(rng: Rng, true: float) -> dict[str, Any]:
    litres = 200.0
    times = litres * LITRE / true * rng.normal(1.0, 0.008, 5)
    fills = [{"volume_l": f"{litres:.0f}", "time_s": f"{t:.1f}"} for t in times]
    return {"method": "volumetric", "fills": fills}


def dilution_gulp(rng: Rng, true: float) -> dict[str, Any]:
    """Observe a cloud of salt: a steep rise and a long tail, background before and after."""
    t = np.arange(0.0, 900.0, 5.0)
    since = np.maximum(t - 60.0, 0.0) / 60.0
    cloud = since**2 * np.exp(-1.6 * since)
    mass = float(np.clip(round(true / LITRE * 4.0, -1), 100.0, 1000.0))
    factor = 0.49
    risen = mass / (factor * true * float(rng.normal(1.0, 0.01))) * cloud / (cloud.sum() * 5.0)
    trace = np.round(112.0 + risen, 1)
    concentrations = np.array([0.0, 20.0, 40.0, 80.0])
    read = 112.0 + concentrations / factor + rng.normal(0.0, 0.15, 4)
    return {
        "method": "dilution_gulp",
        "mass_g": f"{mass:.0f}",
        "time_s": t.tolist(),
        "conductivity_us_cm": trace.tolist(),
        "background_us_cm": "112",
        "background_end_us_cm": "112",
        "calibration": [
            {"concentration_mg_l": f"{c:.0f}", "conductivity_us_cm": f"{e:.1f}"}
            for c, e in zip(concentrations, read, strict=True)
        ],
    }


def dilution_constant(rng: Rng, true: float) -> dict[str, Any]:
    feed_ml_s, strength = 10.0, 150_000.0
    plateau = 5.0 + feed_ml_s * 1e-6 * strength / true * rng.normal(1.0, 0.006, 5)
    return {
        "method": "dilution_constant",
        "injection_ml_s": f"{feed_ml_s:.1f}",
        "injected": f"{strength:.0f}",
        "background": "5",
        "background_end": "5",
        "plateau": [f"{c:.2f}" for c in plateau],
    }


def float_(rng: Rng, true: float) -> dict[str, Any]:
    width, depths = 1.6, [0.28, 0.31, 0.29]
    speed = true / (0.85 * width * float(np.mean(depths)))
    times = 10.0 / speed * rng.normal(1.0, 0.05, 3)
    return {
        "method": "float",
        "distance_m": "10",
        "times_s": [f"{t:.1f}" for t in times],
        "width_m": f"{width}",
        "depths_m": [f"{d}" for d in depths],
    }


def portable(rng: Rng, true: float) -> dict[str, Any]:
    flow = true * float(rng.normal(1.0, 0.01)) / LITRE
    return {
        "method": "portable",
        "described": "Portable plate, its own table (invented)",
        "discharge_l_s": f"{flow:.2f}",
        "uncertainty_pct": "5",
    }


OBSERVE = {
    "velocity_area": velocity_area,
    "volumetric": volumetric,
    "dilution_gulp": dilution_gulp,
    "dilution_constant": dilution_constant,
    "float": float_,
    "portable": portable,
}
