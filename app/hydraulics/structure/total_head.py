"""Structures whose discharge follows from the total head alone, whatever the approach.

For a known discharge their total head is the same in every race and at every sill height; only the
velocity head that is taken off it differs. Many sill heights are judged at once through this.
"""

from abc import ABC, abstractmethod

import numpy as np
from numpy.typing import ArrayLike

from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import G
from app.hydraulics.channel.sections import Section

NEWTON_STEPS = 30


class ByTotalHead(ABC):
    """A device that can tell its total head from the discharge."""

    @abstractmethod
    def total_head_m(self, discharge_m3s: Floats) -> Floats:
        """Return the total head over the crest that passes each discharge, m; NaN for none."""

    @abstractmethod
    def limit_by_rule(self) -> float:
        """Return the modular limit by the rule of thumb for its exit."""


def gauged_head(
    approach: Section, discharge_m3s: ArrayLike, total_head_m: ArrayLike, sill_m: ArrayLike
) -> Floats:
    """Return the head that the gauge shows: total head less the velocity head there, m.

    Solves ``h + Q^2 / (2 g A(h + p)^2) = H`` on the branch of slow flow, downwards from H; the
    inverse of `channel.critical.with_approach`.

    Parameters
    ----------
    approach : Section
    discharge_m3s, total_head_m, sill_m : array_like
        Broadcast: m3/s; m over the crest; crest over the approach bed, m.

    Returns
    -------
    ndarray
        NaN where there is no such head: the throat is not narrow enough to force critical flow.
    """
    flow, total, sill = np.broadcast_arrays(
        np.asarray(discharge_m3s, float), np.asarray(total_head_m, float), np.asarray(sill_m, float)
    )
    head = total.copy()
    slow = np.isfinite(total) & (total > 0)
    for _ in range(NEWTON_STEPS):
        area, width = approach.area(head + sill), approach.top_width(head + sill)
        safe = np.where(area > 0, area, 1.0)
        speed_head = flow * flow / (2.0 * G * safe * safe)
        slope = 1.0 - 2.0 * speed_head * width / safe  # 1 - Fr^2
        slow &= (slope > 0) & (head > 0)
        gap = head + speed_head - total
        step = np.where(slow, gap / np.where(slow, slope, 1.0), 0.0)
        head = head - step
        if not np.any(np.abs(step) > 1e-13 * np.maximum(np.abs(head), 1e-3)):
            break
    # as the forward solve has it: more velocity head than head is no control
    found: Floats = np.where(slow & (total <= 2.0 * head), head, np.nan)
    return found
