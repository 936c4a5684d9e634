"""The only conversion factors of the project, and the constant of gravity.

Everything inside is SI; other units exist at the edge only. The foot and the inch are exact by
the international yard and pound agreement of 1959.
"""

import math
import re
from decimal import Decimal

from app.errors import BadInput
from app.hydraulics.base.figures import settle

G = 9.80665
"""Standard acceleration of gravity, m/s2 (CGPM 1901), used by every equation."""

BELOW_THOUSAND = 999.0
"""Metres, metres a second and per cent at a flume never reach a thousand: 1.250 is one and a
quarter there. Reduced levels may, but are booked to the millimetre."""

LARGEST_FIGURE = 1e15
"""No figure that a person types is larger; a larger one is a slip or no number."""

DUST = 1e-9
"""What rounding leaves of a sum or a share: no difference."""

DAY_S = 86_400
WATER_KG_M3 = 1000.0

FOOT = 0.3048
INCH = 0.0254
CUBIC_FOOT = FOOT**3
POUND_KG = 0.45359237

LENGTH_M: dict[str, float] = {"mm": 0.001, "cm": 0.01, "m": 1.0, "ft": FOOT, "in": INCH}
"""Metres in one of each unit of length."""

DISCHARGE_M3S: dict[str, float] = {
    "m3/s": 1.0,
    "L/s": 0.001,
    "ft3/s": CUBIC_FOOT,
    "m3/h": 1.0 / 3600.0,
    "ML/d": 1000.0 / 86400.0,
    "US gal/min": 231.0 * INCH**3 / 60.0,
}
"""Cubic metres a second in one of each unit of discharge."""

LITRE = DISCHARGE_M3S["L/s"]


PRESSURE_PA: dict[str, float] = {
    "Pa": 1.0,
    "hPa": 100.0,
    "mbar": 100.0,
    "kPa": 1000.0,
    "bar": 100_000.0,
    "psi": POUND_KG * G / INCH**2,
    "mH2O": 1000.0 * G,
    "cmH2O": 10.0 * G,
    "mmH2O": G,
    "ftH2O": 1000.0 * G * FOOT,
    "inH2O": 1000.0 * G * INCH,
}
"""Pascals in one of each unit of pressure; columns of water of 1000 kg/m3."""

TEMPERATURE_C: dict[str, tuple[float, float]] = {
    "degC": (1.0, 0.0),
    "degF": (5.0 / 9.0, -160.0 / 9.0),
    "K": (1.0, -273.15),
}
"""Factor and addend that turn each scale of temperature into degrees Celsius (SI brochure)."""

_WITH_UNIT = re.compile(r"(.*?)\s*([A-Za-z\"']*)\s*", re.DOTALL)


def coefficient_si(coefficient_us: float, exponent: float, width_exponent: float = 0.0) -> float:
    """Convert C of Q = C W^m h^n from feet and ft3/s to metres and m3/s.

    The factor is 0.3048^(3 - n - m), so a coefficient never travels without its exponent.

    Parameters
    ----------
    coefficient_us : float
        Coefficient for ft3/s with lengths in feet.
    exponent : float
        Exponent n of the head.
    width_exponent : float
        Exponent m of a width that is left in the equation; 0 when it is inside C.
    """
    return float(coefficient_us * FOOT ** (3.0 - exponent - width_exponent))


def number(
    field: str, text: str | float, *, low: float | None = None, high: float | None = None
) -> float:
    """Read a plain number as `figures.meanings` has it; comma and point both serve.

    Parameters
    ----------
    low, high : limits that decide between two meanings of a text; they refuse nothing here

    Raises
    ------
    BadInput
        When the text is no finite number; TwoMeanings when it can be two.
    """
    return _parsed(
        field,
        text,
        None,
        rule="a number",
        remedy="Give digits 0 to 9, such as 0.5.",
        low=low,
        high=high,
    )


def length_m(
    field: str, text: str | float, *, low: float | None = None, high: float | None = None
) -> float:
    """Read a length in metres; a trailing mm, cm, m, ft or in is converted.

    Metres are written to the millimetre, so that 1.251 has one meaning here.

    Raises
    ------
    BadInput
        When the text is no finite length; TwoMeanings when it can be two.
    """
    rule, remedy = "a length in metres", "Give metres, such as 0.45, or write 450 mm."
    return _parsed(field, text, LENGTH_M, rule=rule, remedy=remedy, low=low, high=high)


def _parsed(
    field: str,
    text: str | float,
    factors: dict[str, float] | None,
    *,
    rule: str,
    remedy: str,
    low: float | None,
    high: float | None,
) -> float:
    if isinstance(text, bool):
        raise BadInput(field, text, f"must be {rule}", remedy)
    if isinstance(text, (int, float)):
        value: float | None = float(text)
        unit = ""
    else:
        digits, unit = str(text), ""
        if factors is not None:
            match = _WITH_UNIT.fullmatch(digits)
            digits, unit = (match[1], match[2]) if match else ("", "")
            if unit and unit not in factors:
                raise BadInput(field, text, f"must be {rule}", remedy)
        to_mm = factors is not None and unit in ("", "m")
        scale = (factors or {}).get(unit, 1.0)
        bounds = [None if bound is None else bound / scale for bound in (low, high)]
        value = settle(field, digits, low=bounds[0], high=bounds[1], to_mm=to_mm, unit=unit)
    if value is None or not abs(value) <= LARGEST_FIGURE:  # also refuses nan and infinity
        raise BadInput(field, text, f"must be {rule}", remedy)
    return times(value, (factors or {}).get(unit, 1.0))


def times(value: float, factor: float) -> float:
    """Return value * factor with the digits as typed: 1251 mm is 1.251 m, no more."""
    if not math.isfinite(value):
        return value * factor
    return float(Decimal(repr(value)) * Decimal(repr(factor)))
