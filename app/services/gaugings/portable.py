"""Portable devices for check gaugings: their tables for the phone, and the server's own rating."""

from functools import lru_cache
from typing import Any

from app.errors import BadInput
from app.hydraulics.base.rounding import general
from app.hydraulics.families.portable import PORTABLE
from app.hydraulics.families.registry import build
from app.hydraulics.gauging.verdict import Gauging, known_gauging
from app.hydraulics.rating.curve import phone_table
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flow, flag_words

HEAD_UNCERTAINTY_M = 0.002  # a scale on the device itself, read close up; common practice
THINNED = 4  # every so many nodes of a table: log-log between them stays within 0.05 %


@lru_cache(maxsize=1)
def portable_cards() -> list[dict[str, Any]]:
    """Return the portable devices with a small table each, for the phone's pack.

    The tables hold free flow only: a portable device that drowns is set again, not corrected.
    """
    return [
        {
            "key": one.key,
            "label": one.label,
            "family": one.family,
            "dims": dict(one.dims),
            "described": build(one.family, one.dims).describe(),
            "table": thin(phone_table(build(one.family, one.dims))),
        }
        for one in PORTABLE
    ]


def thin(table: dict[str, Any]) -> dict[str, Any]:
    """Return a phone table with fewer nodes, first and last kept, and no drowned part."""
    last = len(table["heads_m"]) - 1
    kept = [i for i in range(last + 1) if i % THINNED == 0 or i == last]
    nodes = ("heads_m", "discharge_m3s", "device_pct", "exponent", "modular_limit")
    return {**table, **{key: [table[key][i] for i in kept] for key in nodes}, "drowned": None}


def portable_gauging(
    family: str,
    dims: dict[str, str | float],
    heads_m: list[float],
    head_uncertainty_m: float | None,
    free_seen: bool,
) -> Gauging:
    """Return the discharge of a portable device at the mean of its heads.

    Raises
    ------
    BadInput
        For a device that cannot be built, or a head that gives no discharge.
    """
    device = build(family, dims)
    head = sum(heads_m) / len(heads_m)
    uncertainty = HEAD_UNCERTAINTY_M if head_uncertainty_m is None else head_uncertainty_m
    rated = rate(device, [head], None, uncertainty, free_seen=[free_seen])
    flow = Flow(int(rated.flow[0]))
    discharge, pct = float(rated.discharge_m3s[0]), float(rated.uncertainty_pct[0])
    if not discharge > 0.0:
        raise BadInput(
            "heads_mm", f"{general(head * 1000.0)} mm",
            f"the portable device gives no discharge: {flow.word}",
            "Read its head again, over its own zero.",
        )  # fmt: skip
    found = known_gauging("portable device", discharge, pct)
    words = flag_words(int(rated.flags[0]))
    if flow is Flow.ASSUMED_FREE:
        words.append("portable device: free drop not seen")
    return Gauging(
        method=found.method,
        discharge_m3s=discharge,
        uncertainty_pct=pct,
        parts={name: float(part[0]) for name, part in rated.parts.items() if part[0] > 0.0},
        flags=tuple(words),
    )
