"""Stilling wells: lag behind the race, and sizes of port and pipe.

Public functions (SI):

    well_lag(*, pipe_length_m, pipe_diameter_m, well_diameter_m, rate_m_per_s, loss_factor=0,
             friction=0.02) -> WellLag
    well_openings(well_diameter_m) -> WellOpenings
"""

import math
from dataclasses import dataclass

from app.errors import BadInput
from app.hydraulics.base.result import Result
from app.hydraulics.base.units import G


@dataclass(frozen=True)
class WellLag(Result):
    """How far and how long a stilling well trails the race."""

    head_lag_m: float
    time_lag_s: float


@dataclass(frozen=True)
class WellOpenings(Result):
    """Openings of a stilling well by the published ratios."""

    port_diameter_m: float
    port_by_area_m: float
    pipe_diameter_m: float


def well_lag(
    *,
    pipe_length_m: float,
    pipe_diameter_m: float,
    well_diameter_m: float,
    rate_m_per_s: float,
    loss_factor: float = 0.0,
    friction: float = 0.02,
) -> WellLag:
    """Return the lag of a stilling well behind a level that changes at a steady rate.

    With friction 0.02 and no entry or exit loss this is (0.01/g)(L/D)(Aw/Ap)^2 (dh/dt)^2, Rantz
    and others 1982, USGS WSP 2175, and Sauer and Turnipseed 2010, USGS TM 3-A7 (from memory). It
    is a lower bound in very slow flow, where the pipe is laminar.
    """
    areas = (
        _positive("well_diameter_m", well_diameter_m)
        / _positive("pipe_diameter_m", pipe_diameter_m)
    ) ** 2
    losses = loss_factor + friction * pipe_length_m / pipe_diameter_m
    lag = losses * areas**2 * rate_m_per_s**2 / (2.0 * G)
    return WellLag(lag, lag / abs(rate_m_per_s) if rate_m_per_s else 0.0)


def well_openings(well_diameter_m: float) -> WellOpenings:
    """Return port and pipe sizes: 1/30 and 1/20 of the diameter, port area 1/1000.

    References
    ----------
    US Bureau of Reclamation, Water Measurement Manual, 3rd ed. (rev. 2001), ch. 6 sec. 7.
    """
    diameter = _positive("well_diameter_m", well_diameter_m)
    return WellOpenings(diameter / 30.0, diameter * math.sqrt(0.001), diameter / 20.0)


def _positive(field: str, value: float) -> float:
    if not value > 0.0:
        raise BadInput(field, value, "must be more than zero", "Measure it and give metres.")
    return value
