"""Cases of words_vectors.json: discharges as the office words them."""

from typing import Any

import numpy as np

from app.language import words
from tests.vectors.harness import case

# ties and thresholds
TIES = [
    (0.0125, 20.0), (0.05, 12.5), (0.5, 9.95), (0.5, 9.949), (0.8031, 15.0), (0.9, 11.2),
    (2.5, 4.0), (0.000012, 50.0), (25.0, 8.0), (0.25, 10.0), (0.9999, 3.0), (1.0, 3.0),
]  # fmt: skip


def vectors() -> list[dict[str, Any]]:
    rng = np.random.default_rng(7)
    flows = np.exp(rng.uniform(np.log(2e-5), np.log(80.0), 400))
    pcts = np.exp(rng.uniform(np.log(1.5), np.log(60.0), 400))
    pairs: list[tuple[float, float | None]] = [
        *TIES,
        *zip(flows.tolist(), pcts.tolist(), strict=True),
        *((flow, None) for flow in (0.0385, 0.038, 2.0)),
    ]
    return [
        case(
            f"{flow} at {pct} %",
            "discharge",
            {"discharge_m3s": flow, "uncertainty_pct": pct},
            {"result": words.discharge(flow, pct)},
        )
        for flow, pct in pairs
    ]
