"""Critical flow at the control of a flume, for any section and for whole arrays of heads.

At critical depth ``y`` the specific energy is least for the discharge: ``Q^2 T = g A^3`` and
``H = y + A / (2 T)`` (Chow 1959, *Open-Channel Hydraulics*, ch. 4, from memory; level throat,
uniform velocity). The depth therefore follows from the energy alone and the discharge from the
depth. Sensitivities: ``dQ/dH = sqrt(g A T)``, ``d ln Q/d ln H = H T / A``.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.sections import Compound, Section

APPROACH_STEPS = 10
RESIDUAL = 1e-10  # largest relative error of H left after the solve
BLOCK = 8_192  # heads solved at once, so that the work stays in the processor's cache


@dataclass(frozen=True, kw_only=True)
class Controlled:
    """Flow through a critical control fed by an approach section. Arrays, one item a head."""

    discharge_m3s: Floats  # NaN where there is no control
    ideal_m3s: Floats  # the same without the coefficient
    total_head_m: Floats  # head plus approach velocity head, over the crest
    depth_m: Floats  # critical depth in the throat
    coefficient: Floats
    froude: Floats  # in the approach section
    approach_area_m2: Floats
    control: NDArray[np.bool_]  # False: the throat does not force critical flow


def critical_depth(section: Section, energy_m: ArrayLike) -> Floats:
    """Critical depth for a specific energy, m.

    Parameters
    ----------
    section : Section
        Section of the control.
    energy_m : array_like
        Energy over the section's lowest point, m, any shape. NaN stays NaN; at or below 0 the
        depth is 0.

    Returns
    -------
    ndarray
        Depth, m, same shape. In a compound section several depths may satisfy the condition near
        a ledge; the one that passes the most water is the physical one (least energy for its
        discharge) and is returned: see `ledge_band`. In a pipe the depth nears the soffit without
        reaching it (above 0.9 D the control is not to be trusted). NaN where the energy equation
        is left with a residual above 1e-10 of the energy (a pipe under hundreds of diameters).
    """
    return critical_discharge(section, energy_m)[1]


def critical_discharge(section: Section, energy_m: ArrayLike) -> tuple[Floats, Floats]:
    """Ideal discharge, m3/s, and critical depth, m, for a specific energy.

    Parameters as `critical_depth`.
    """
    energy = np.asarray(energy_m, float)
    flat = energy.ravel()
    flow, depth = np.empty_like(flat), np.empty_like(flat)
    for start in range(0, flat.size, BLOCK):
        block = slice(start, start + BLOCK)
        flow[block], depth[block] = _solve(section, flat[block])
    return flow.reshape(energy.shape), depth.reshape(energy.shape)


def ledge_band(section: Section, energy_m: ArrayLike) -> NDArray[np.bool_]:
    """Tell where more than one depth is critical: heads near a ledge of a compound section.

    There the control may sit on either side of the ledge and the rating is not trustworthy
    (common practice: leave a gap in the rating).
    """
    energy = np.maximum(np.asarray(energy_m, float), 0.0)
    if not isinstance(section, Compound):
        return np.zeros(energy.shape, bool)
    passed = _strip_candidates(section, energy.ravel())[1]
    several: NDArray[np.bool_] = np.count_nonzero(passed > 0, axis=1) > 1
    return several.reshape(energy.shape)


def with_approach(
    throat: Section,
    approach: Section,
    head_m: ArrayLike,
    sill_m: float,
    coefficient: Callable[[Floats], Floats],
    alpha: float = 1.0,
) -> Controlled:
    """Discharge for a gauged head: critical flow with the velocity head of the approach.

    Solves ``H = h + alpha Q(H)^2 / (2 g A1^2)``, ``Q = Cd(H) Q_ideal(H)`` (Bos 1989, *Discharge
    Measurement Structures*, ch. 1, from memory). Started at ``H = h`` Newton's method climbs to
    the smallest root from below; where the slope vanishes first there is no root: the throat is
    not narrow enough to control.

    Parameters
    ----------
    throat, approach : Section
        Sections at the control and at the head gauge.
    head_m : array_like
        Head over the throat's lowest point, m, any shape.
    sill_m : float
        Height of that point over the approach's lowest point, m.
    coefficient : callable
        Discharge coefficient for an array of total heads; NaN where not defined.
    alpha : float
        Velocity distribution coefficient of the approach.

    Returns
    -------
    Controlled
    """
    head = np.asarray(head_m, float)
    wet = np.maximum(head, 0.0)
    area = approach.area(wet + sill_m)
    safe_area = np.where(area > 0, area, np.inf)
    pull = alpha / (G * safe_area * safe_area)
    total, climbing = wet, np.ones(head.shape, bool)
    for _ in range(APPROACH_STEPS):
        cd = coefficient(total)
        ideal, depth = critical_discharge(throat, total)
        flow = cd * ideal
        slope = pull * cd * flow * np.sqrt(G * throat.area(depth) * throat.top_width(depth))
        climbing &= ~(slope >= 1.0)  # a NaN coefficient is no sign of a lost control
        gap = total - wet - 0.5 * pull * flow * flow
        step = np.where(climbing, gap / np.where(climbing, 1.0 - slope, 1.0), 0.0)
        total = np.where(np.isfinite(step), total - step, total)
    cd = coefficient(total)
    ideal, depth = critical_discharge(throat, total)
    flow = np.where(total > 0, cd * ideal, total)
    left = np.abs(total - wet - 0.5 * pull * flow * flow)
    control = climbing & ~(left > RESIDUAL * total) & ~(total > 2.0 * wet)
    width = approach.top_width(wet + sill_m)
    moving = control & (area > 0)
    froude = np.where(moving, flow / safe_area, np.nan)
    surface = area > 0  # a full approach pipe has none, and no Froude number: 0
    surface &= width > 0
    wave = np.sqrt(G * np.where(surface, area, 1.0) / np.where(surface, width, 1.0))
    froude = froude / np.where(surface | ~moving, wave, np.inf)
    return Controlled(
        discharge_m3s=np.where(control, flow, np.nan),
        ideal_m3s=np.where(control, ideal, np.nan),
        total_head_m=np.where(control, total, np.nan),
        depth_m=np.where(control, depth, np.nan),
        coefficient=cd,
        froude=np.where(head > 0, froude, np.where(np.isnan(head), np.nan, 0.0)),
        approach_area_m2=area,
        control=control,
    )


def _solve(section: Section, energy: Floats) -> tuple[Floats, Floats]:
    wet = energy > 0
    safe = np.where(wet, energy, 1.0)
    if isinstance(section, Compound):
        depths, passed = _strip_candidates(section, safe)
        depth = np.take_along_axis(depths, np.argmax(passed, axis=1)[:, None], axis=1)[:, 0]
    else:
        depth = _newton(section, safe)
    area, width, _ = section.terms(depth)
    ratio = area / width
    good = wet & (np.abs(depth + 0.5 * ratio - safe) <= RESIDUAL * safe)
    flow = area * np.sqrt(G * ratio)
    if not np.all(good):
        missing = np.where(energy <= 0, 0.0, np.nan)
        depth, flow = np.where(good, depth, missing), np.where(good, flow, missing)
    return flow, depth


def _newton(section: Section, energy: Floats) -> Floats:
    """Bracketed Newton on E(y) = y + A / 2T; the number of steps is fixed by the section."""
    high = np.minimum(0.8 * energy, section.soffit_m * (1.0 - 1e-12))  # 0.8: the triangle
    low = 0.5 * high
    depth = np.clip(section.critical_guess(energy), low, high)
    for _ in range(section.newton_steps):
        area, width, widening = section.terms(depth)
        ratio = area / width
        gap = depth + 0.5 * ratio - energy
        over = gap > 0
        high = np.where(over, depth, high)
        low = np.where(over, low, depth)
        step = depth - gap / (1.5 - 0.5 * ratio * widening / width)
        inside = (step >= low) & (step <= high)
        depth = np.where(inside, step, 0.5 * (low + high))
    return depth


def _strip_candidates(section: Compound, energy: Floats) -> tuple[Floats, Floats]:
    """Critical depth inside every strip and what it passes (0 where the strip has none).

    In a strip the width is linear, so ``2 T (H - y) = A`` is a quadratic; its root where the left
    side falls through the right is a maximum of the discharge for the energy.
    """
    s = section.strips
    above = energy[:, None] - s.level
    lead = 2.5 * s.slope
    middle = 3.0 * s.width - 2.0 * s.slope * above
    last = s.area - 2.0 * s.width * above
    inner = middle * middle - 4.0 * lead * last
    root = np.sqrt(np.maximum(inner, 0.0))
    easy = middle > 0
    rise = np.where(
        easy,
        -2.0 * last / np.where(easy, middle + root, 1.0),
        (root - middle) / np.where(lead == 0, 1.0, 2.0 * lead),
    )
    # a root on a joint belongs to the strip above it, so that it counts once
    slack = 1e-12 * max(float(s.level[-1]), 1e-3)
    held = (inner >= 0) & (above > 0) & (rise >= -slack) & (rise < s.top - s.level - slack)
    rise = np.where(held, np.maximum(rise, 0.0), 0.0)
    area = s.area + rise * (s.width + 0.5 * s.slope * rise)
    passed = np.where(held, area * np.sqrt(2.0 * G * np.maximum(above - rise, 0.0)), 0.0)
    return s.level + rise, passed
