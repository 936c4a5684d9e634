"""The only conversion factors of the project, and the constant of gravity.

Everything inside is SI; other units exist at the edge only. The foot and the inch are exact by
the international yard and pound agreement of 1959.
"""

import re

from app.errors import BadInput

G = 9.80665
"""Standard acceleration of gravity, m/s2 (CGPM 1901), used by every equation."""

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

VOLUME_M3: dict[str, float] = {
    "m3": 1.0,
    "L": 0.001,
    "ML": 1000.0,
    "acre-ft": 43560.0 * CUBIC_FOOT,
}
"""Cubic metres in one of each unit of volume."""

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

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z\"']*)\s*")


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


def number(field: str, text: str | float) -> float:
    """Read a plain number; comma and point both serve as the decimal sign.

    Raises
    ------
    BadInput
        When the text is no finite number.
    """
    return _parsed(field, text, {}, "a number", "Give digits, such as 0.5.")


def length_m(field: str, text: str | float) -> float:
    """Read a length in metres; a trailing mm, cm, m, ft or in is converted.

    Raises
    ------
    BadInput
        When the text is no finite length.
    """
    return _parsed(
        field, text, LENGTH_M, "a length in metres", "Give metres, such as 0.45, or write 450 mm."
    )


def _parsed(
    field: str, text: str | float, factors: dict[str, float], rule: str, remedy: str
) -> float:
    if isinstance(text, bool):
        raise BadInput(field, text, f"must be {rule}", remedy)
    if isinstance(text, (int, float)):
        value, factor = float(text), 1.0
    else:
        match = _NUMBER.fullmatch(str(text).replace(",", "."))
        unit = match.group(2) if match else ""
        if match is None or (unit and unit not in factors):
            raise BadInput(field, text, f"must be {rule}", remedy)
        value, factor = float(match.group(1)), factors.get(unit, 1.0)
    if not abs(value) < 1e9:  # also refuses nan and infinity
        raise BadInput(field, text, f"must be {rule}", remedy)
    return value * factor
