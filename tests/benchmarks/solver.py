"""Critical-flow solve of 100 000 heads against a scipy brentq loop over the same heads."""

import math
import time
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq

from app.hydraulics.channel.critical import critical_depth
from app.hydraulics.channel.sections import Circle, Rectangle, Section, Trapezoid

HEADS = 100_000
GOAL = 100.0


def energy_rectangle(y: float) -> float:
    """Specific energy of critical flow in any rectangle, m."""
    return 1.5 * y


def energy_trapezoid(y: float) -> float:
    """Specific energy of critical flow for b 0.3, m 1, m."""
    return y + y * (0.3 + y) / (0.3 + 2.0 * y) / 2.0


def energy_circle(y: float) -> float:
    """Specific energy of critical flow for D 0.6, m."""
    angle = 2.0 * math.acos(1.0 - 2.0 * y / 0.6)
    return y + 0.6 / 16.0 * (angle - math.sin(angle)) / math.sin(angle / 2.0)


CASES: tuple[tuple[str, Section, Callable[[float], float], float], ...] = (
    ("rectangle", Rectangle(0.4), energy_rectangle, 2.0),
    ("trapezoid", Trapezoid(0.3, 1.0), energy_trapezoid, 2.0),
    ("circle", Circle(0.6), energy_circle, 0.6),
)


def run() -> list[str]:
    """Time every case; the peer runs over every tenth head and is scaled up."""
    lines = []
    heads = np.geomspace(0.01, 0.8, HEADS)
    for name, section, energy, soffit in CASES:
        mine = math.inf
        for _ in range(5):
            started = time.perf_counter()
            depth = critical_depth(section, heads)
            mine = min(mine, time.perf_counter() - started)
        sample = heads[::10].tolist()
        started = time.perf_counter()
        found = [
            brentq(
                lambda y, h=h, e=energy: e(y) - h, 0.5 * h, min(h, soffit * (1 - 1e-12)), xtol=1e-12
            )
            for h in sample
        ]
        peer = (time.perf_counter() - started) * HEADS / len(sample)
        worst = float(np.abs(depth[::10] / np.array(found) - 1.0).max())
        lines.append(
            f"critical depth of {HEADS} heads, {name}: {peer / mine:.0f} x a scipy brentq loop "
            f"(goal >= {GOAL:.0f}), agreement {worst:.1e}"
        )
    return lines


if __name__ == "__main__":
    print("\n".join(run()))
