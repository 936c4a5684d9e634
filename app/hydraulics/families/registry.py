"""The registry of families: one line each. Nothing outside this folder names a family."""

from collections.abc import Mapping

from app.errors import BadInput
from app.hydraulics.families import (
    cutthroat,
    h_flume,
    notch,
    thin_plate,
    user_power,
    user_table,
    v_trapezoid,
)
from app.hydraulics.families.long_throat import any as long_throat_any
from app.hydraulics.families.long_throat import iso as long_throat_iso
from app.hydraulics.families.parshall import device as parshall
from app.hydraulics.families.weirs import orifice, profiles
from app.hydraulics.structure.device import Device, Family

_FAMILIES: tuple[Family, ...] = (
    parshall.FAMILY,
    long_throat_iso.RECT,
    long_throat_iso.TRAP,
    long_throat_iso.U,
    long_throat_any.FAMILY,
    cutthroat.FAMILY,
    h_flume.FAMILY,
    v_trapezoid.FAMILY,
    notch.V_NOTCH,
    thin_plate.CONTRACTED,
    thin_plate.FULL_WIDTH,
    notch.CIPOLLETTI,
    profiles.BROAD,
    profiles.ROUND,
    profiles.TRIANGULAR,
    orifice.FAMILY,
    user_power.FAMILY,
    user_table.FAMILY,
)

DEVICES: dict[str, Family] = {family.key: family for family in _FAMILIES}


def family(key: str) -> Family:
    """Return the family of that key.

    Raises
    ------
    BadInput
        When the registry holds no such family.
    """
    found = DEVICES.get(key.strip().lower().replace("-", "_"))
    if found is None:
        raise BadInput(
            "family",
            key,
            "is not a family in the registry",
            "Use one of: " + ", ".join(DEVICES) + ".",
        )
    return found


def fit_family() -> Family:
    """Return the family that can hold a rating fitted to gaugings."""
    return next(found for found in _FAMILIES if found.fitted_dims is not None)


def build(family_key: str, dims: Mapping[str, str | float]) -> Device:
    """Build a device of the family from dimensions as a person gives them.

    Raises
    ------
    BadInput
        Naming the family or dimension, its value, the rule and the remedy.
    """
    return family(family_key).build(dims)
