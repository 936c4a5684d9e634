"""Positions on the ground as metres on a plane: a local tangent plane on the WGS 84 ellipsoid.

A position becomes Earth-centred coordinates, and these become east and north in the plane that
touches the ellipsoid at an origin (topocentric coordinates: IOGP, Geomatics Guidance Note 7-2,
"Coordinate Conversions and Transformations including Formulas", sections "Geographic/geocentric
conversions" and "Geocentric/topocentric conversions", EPSG methods 9602 and 9836). Heights are
taken as 0. The plane shortens a distance d from its origin by about d²/(2 R²) of itself: 5 in a
million at 20 km. Positions across the 180th meridian need no care.

Public functions
----------------
earth_centred(latitude_deg, longitude_deg, height_m=0) -> array (n, 3), m
topocentric(latitude_deg, longitude_deg, height_m, origin) -> array (n, 3) east, north, up, m
on_plane(latitude_deg, longitude_deg, origin) -> array (n, 2) east and north of the origin, m
middle(latitude_deg, longitude_deg) -> (latitude, longitude) in the midst of positions
ground_distance_m(latitude_deg, longitude_deg) -> float, m, between two positions
"""

import numpy as np
from numpy.typing import ArrayLike

from app.hydraulics.base.arrays import Floats

# World Geodetic System 1984: NGA.STND.0036, semi-major axis and reciprocal flattening.
SEMI_MAJOR_M = 6_378_137.0
FLATTENING = 1.0 / 298.257223563
ECCENTRICITY2 = FLATTENING * (2.0 - FLATTENING)


def earth_centred(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, height_m: ArrayLike = 0.0
) -> Floats:
    """Return Earth-centred coordinates of positions, shape (n, 3), m."""
    phi = np.radians(np.atleast_1d(np.asarray(latitude_deg, dtype=float)))
    lam = np.radians(np.atleast_1d(np.asarray(longitude_deg, dtype=float)))
    high = np.broadcast_to(np.asarray(height_m, dtype=float), phi.shape)
    normal = SEMI_MAJOR_M / np.sqrt(1.0 - ECCENTRICITY2 * np.sin(phi) ** 2)
    found: Floats = np.stack(
        [
            (normal + high) * np.cos(phi) * np.cos(lam),
            (normal + high) * np.cos(phi) * np.sin(lam),
            ((1.0 - ECCENTRICITY2) * normal + high) * np.sin(phi),
        ],
        axis=-1,
    )
    return found


def topocentric(
    latitude_deg: ArrayLike,
    longitude_deg: ArrayLike,
    height_m: ArrayLike,
    origin: tuple[float, float, float],
) -> Floats:
    """Return east, north and up of positions from an origin, shape (n, 3), m.

    Parameters
    ----------
    origin : (latitude, longitude, height), degrees and m
    """
    apart = earth_centred(latitude_deg, longitude_deg, height_m) - earth_centred(*origin)[0]
    found: Floats = apart @ axes(origin[0], origin[1]).T
    return found


def axes(latitude_deg: float, longitude_deg: float) -> Floats:
    """Return the directions east, north and up at a position, as rows of shape (3, 3)."""
    phi, lam = np.radians(latitude_deg), np.radians(longitude_deg)
    return np.array(
        [
            [-np.sin(lam), np.cos(lam), 0.0],
            [-np.sin(phi) * np.cos(lam), -np.sin(phi) * np.sin(lam), np.cos(phi)],
            [np.cos(phi) * np.cos(lam), np.cos(phi) * np.sin(lam), np.sin(phi)],
        ]
    )


def on_plane(
    latitude_deg: ArrayLike, longitude_deg: ArrayLike, origin: tuple[float, float]
) -> Floats:
    """Return east and north of the origin, shape (n, 2), m; NaN for what lies beyond the horizon.

    Parameters
    ----------
    origin : (latitude, longitude), degrees
    """
    found = topocentric(latitude_deg, longitude_deg, 0.0, (*origin, 0.0))
    # On the other half of the Earth the plane would fold what is far onto what is near.
    found[found[:, 2] < -SEMI_MAJOR_M] = np.nan
    plane: Floats = found[:, :2]
    return plane


def middle(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> tuple[float, float]:
    """Return a position in the midst of others: the median of their Earth-centred coordinates.

    A single position far away does not draw it there. At least one position is needed.
    """
    centre = np.median(earth_centred(latitude_deg, longitude_deg), axis=0)
    flat = float(np.hypot(centre[0], centre[1]))
    # From the centre of the Earth to the ellipsoid's own latitude, on its surface.
    latitude = np.degrees(np.arctan2(centre[2], flat * (1.0 - ECCENTRICITY2)))
    return float(latitude), float(np.degrees(np.arctan2(centre[1], centre[0])))


def ground_distance_m(latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> float:
    """Return the distance along the ground between two positions, m; within 0.1 % to 500 km.

    The straight line between the two is bent with the mean radius where they lie: twice the
    radius times the arc sine of half the line over the radius.
    """
    ends = earth_centred(latitude_deg, longitude_deg)
    straight = float(np.linalg.norm(ends[1] - ends[0]))
    sine2 = np.sin(np.radians(float(np.mean(np.asarray(latitude_deg, dtype=float))))) ** 2
    # Gauss's mean radius, the root of the radii in the meridian and across it
    radius = SEMI_MAJOR_M * np.sqrt(1.0 - ECCENTRICITY2) / (1.0 - ECCENTRICITY2 * sine2)
    return float(2.0 * radius * np.arcsin(min(straight / (2.0 * radius), 1.0)))
