"""Vectors of the phone's look at a plan: `python -m tests.vectors.plan` writes them."""

import json
from typing import Any

from app.services.plans.inputs import plan_inputs
from app.services.plans.work import work_out
from tests.builders.plan_cases import PLAN
from tests.paths import TABLES

FILE = TABLES / "plan_vectors.json"
KEYS = ("head_m", "submergence_ratio", "submergence_weedy", "modular_limit", "upstream_level_m",
        "freeboard_m", "freeboard_needed_m", "discharge_uncertainty_pct")  # fmt: skip
CASES: tuple[dict[str, str], ...] = (
    {},
    {"weed_margin_mm": "120", "q_max_l_s": "75"},
    {"crest_rl_m": "48.96", "bank_rl_m": ""},
)


def vectors() -> list[dict[str, Any]]:
    """Return, for each candidate and case, the phone's question and the server's answer."""
    made = []
    for case in CASES:
        result = work_out(plan_inputs(PLAN | case))
        for one in result["candidates"]:
            if "p" in one["dims"]:
                continue  # its sill height, and so its table, follows the crest
            made.append(
                {
                    "name": f"{one['described']} {case}",
                    "table": one["table"],
                    "tail": [result["flows_m3s"], result["tail_levels_m"], 48.80],
                    "question": {
                        "flows_m3s": result["flows_m3s"],
                        "tails_m": result["tail_levels_m"],
                        "weed_m": result["weed_margin_m"],
                        "floor_rl_m": result["floor_rl_m"],
                        "bank_rl_m": result["bank_rl_m"],
                        "crest_rl_m": one["crest_rl_m"],
                        "head_uncertainty_m": result["head_uncertainty_m"],
                    },
                    "crest_needed_m": one["crest_needed_m"],
                    "flows": [{key: flow[key] for key in KEYS} for flow in one["flows"]],
                }
            )
    return json.loads(json.dumps(made))  # type: ignore[no-any-return]


if __name__ == "__main__":
    FILE.write_text(json.dumps(vectors(), indent=1) + "\n", encoding="utf-8")
