"""From what a level sensor measures to a depth of water.

Public functions
----------------
depth_m(pressure_pa, *, density_kg_m3=1000.0) -> array
gauge_pressure_pa(absolute_pa, barometer_pa) -> array
distance_m(reported_m, air_c, *, assumed_air_c=20.0) -> array
"""

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import WATER_KG_M3, G

ICE_POINT_K = 273.15


def depth_m(pressure_pa: ArrayLike, *, density_kg_m3: float = WATER_KG_M3) -> Floats:
    """Return the depth of water over a sensor, p / (rho g), same shape; NaN stays NaN.

    Raises
    ------
    BadInput
        If the density is not that of water (900 to 1100 kg/m3).
    """
    if not 900.0 <= density_kg_m3 <= 1100.0:
        raise BadInput("density", density_kg_m3, "water has 900 to 1100 kg/m3", "Leave it at 1000.")
    return np.asarray(pressure_pa, dtype=np.float64) / (density_kg_m3 * G)


def gauge_pressure_pa(absolute_pa: ArrayLike, barometer_pa: ArrayLike) -> Floats:
    """Return pressure over the atmosphere; missing when either reading is missing."""
    return np.asarray(absolute_pa, dtype=np.float64) - np.asarray(barometer_pa, dtype=np.float64)


def distance_m(reported_m: ArrayLike, air_c: ArrayLike, *, assumed_air_c: float = 20.0) -> Floats:
    """Return an ultrasonic distance at the air temperature of the reading.

    Parameters
    ----------
    reported_m : array, metres, as worked out by the sensor at `assumed_air_c`
    air_c : array, degrees Celsius; a missing temperature makes the distance missing

    Raises
    ------
    BadInput
        If a temperature is below absolute zero or over 100 degrees.

    References
    ----------
    Speed of sound in air proportional to sqrt(1 + T / 273.15), T in degrees Celsius.
    """
    air = np.asarray(air_c, dtype=np.float64)
    for value in (
        assumed_air_c,
        float(np.nanmin(air, initial=0.0)),
        float(np.nanmax(air, initial=0.0)),
    ):
        if not -ICE_POINT_K < value <= 100.0:
            raise BadInput(
                "air temperature", value, "is in degrees Celsius", "Check the unit of the column."
            )
    return np.asarray(reported_m, dtype=np.float64) * np.sqrt(
        (ICE_POINT_K + air) / (ICE_POINT_K + assumed_air_c)
    )
