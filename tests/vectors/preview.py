"""Cases of preview_vectors.json: a table of the phone, and readings as the server rates them.

The ratings' own sources stand in the registry; the readings are invented.
"""

import math
from typing import Any

import numpy as np

from app.hydraulics.families.registry import build
from app.hydraulics.rating.curve import phone_table
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flow, flag_words
from tests.vectors.harness import answered, case

DEVICES: tuple[tuple[str, dict[str, str | float]], ...] = (
    ("parshall", {"size": "1ft"}),  # one drowned curve for all heads
    ("parshall", {"size": "20ft"}),  # held where the drowned form would rise again
    ("cutthroat", {"size": "3ftx8in"}),  # an onset that is uncertain by a band
    ("long_throat_rect", {"b": 0.4, "L": 0.8, "p": 0.1, "B": 0.8}),  # no correction when drowned
    ("v_notch", {"theta": 90.0, "p": 0.5, "B": 1.5}),
    (
        "user_power",
        {"segments": "1.2,1.62,0.035,0.06,0.6", "modular_limit": 0.7},
    ),  # flow starts late
    ("user_table", {"table": "0.05:0.0072, 0.1:0.0208, 0.2:0.0596, 0.4:0.1711"}),  # limit unknown
    ("user_power", {"C": 1.2, "n": 1.62, "h_lo": 0.05, "h_hi": 0.6, "cannot_drown": "overfall"}),
    ("parshall", {"size": "6in", "head_limit": 2.0, "head_limit_reason": "invented"}),
)
UNCERTAINTIES_M = (0.003, 0.0045)
RATIOS = (None, 0.0, 0.31, 0.58, 0.73, 0.79, 0.86, 0.93, 0.973, 1.0, 1.2)


def reading(
    device: Any, head_m: float, tail_m: float | None, u_m: float, seen: bool
) -> dict[str, Any]:
    rated = rate(
        device,
        np.array([head_m]),
        np.array([math.nan if tail_m is None else tail_m]),
        np.array([u_m]),
        free_seen=np.array([seen]),
    )

    def number(values: Any) -> float | None:
        value = float(values[0])
        return value if math.isfinite(value) else None

    return {
        "head_m": head_m,
        "tailwater_m": tail_m,
        "headUncertainty_m": u_m,
        "freeSeen": seen,
        "expected": {
            "discharge_m3s": number(rated.discharge_m3s),
            "uncertainty_pct": number(rated.uncertainty_pct),
            "flow": Flow(int(rated.flow[0])).word,
            "flags": flag_words(int(rated.flags[0])),
        },
    }


def vectors() -> list[dict[str, Any]]:
    found = []
    for family, dims in DEVICES:
        device = build(family, dims)
        table = phone_table(device)
        cease, low, high = device.cease_to_flow_m, device.head_min_m, device.head_max_m
        heads = [
            cease - 0.02,
            cease - 0.001,
            cease,
            *np.geomspace(max(low, cease) * 1.03, high * 0.97, 7),
        ]
        heads += [max(table["heads_m"][0] * 1.01, low * 0.9), high * 1.01]
        heads += [high * 1.2, 0.999 * device.head_limit_m, 1.001 * device.head_limit_m, 30.0]
        readings = []
        for place, head in enumerate(float(f"{h:.6g}") for h in heads):
            for ratio in RATIOS:
                tail = None if ratio is None else float(f"{ratio * abs(head):.6g}")
                u_m = UNCERTAINTIES_M[place % 2]
                readings.append(reading(device, head, tail, u_m, False))
            readings.append(reading(device, head, None, 0.003, True))
        asked = [{key: one[key] for key in one if key != "expected"} for one in readings]
        args = {"family": family, "dims": dims, "table": table, "readings": asked}
        said = answered(lambda readings=readings: [one["expected"] for one in readings])  # type: ignore[misc]
        name = f"{family} {' '.join(map(str, dims.values()))[:40]}"
        found.append(case(name, "preview", args, said))
    return found
