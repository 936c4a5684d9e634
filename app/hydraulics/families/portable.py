"""Portable devices that a crew carries to a check gauging, as sizes of the registry's families.

Set level, sealed, with a free drop behind them, they gauge small flows to a few percent. A new one
is one line here; the phone's table is made from it.
"""

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Portable:
    """A portable device: a label people know it by, its family and its dimensions."""

    key: str
    label: str
    family: str
    dims: Mapping[str, str | float]


PORTABLE: tuple[Portable, ...] = (
    Portable("plate-v90", "V-notch plate, 90 degrees", "v_notch", {"theta": 90.0}),
    Portable("plate-v60", "V-notch plate, 60 degrees", "v_notch", {"theta": 60.0}),
    Portable("flume-2in", "Portable flume, 2 in throat", "parshall", {"size": "2in"}),
    Portable("flume-3in", "Portable flume, 3 in throat", "parshall", {"size": "3in"}),
    Portable("flume-h05", "H flume, 0.5 ft deep", "h_flume", {"size": "H0.5"}),
)
