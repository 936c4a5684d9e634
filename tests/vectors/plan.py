"""Cases of plan_vectors.json: a candidate of a plan looked at again on the phone."""

from typing import Any

from app.services.plans.inputs import plan_inputs
from app.services.plans.work import work_out
from tests.builders.plan_cases import PLAN
from tests.vectors.harness import answered, case

KEYS = ("head_m", "submergence_ratio", "submergence_weedy", "modular_limit", "upstream_level_m",
        "freeboard_m", "freeboard_needed_m", "discharge_uncertainty_pct")  # fmt: skip
CASES: tuple[dict[str, str], ...] = (
    {},
    {"weed_margin_mm": "120", "q_max_l_s": "75"},
    {"crest_rl_m": "48.96", "bank_rl_m": ""},
)
TAIL_BED_M = 48.80


def vectors() -> list[dict[str, Any]]:
    """Return, for each candidate and case, the phone's question and the server's answer."""
    made = []
    for changes in CASES:
        result = work_out(plan_inputs(PLAN | changes))
        for one in result["candidates"]:
            if "p" in one["dims"]:
                continue  # its sill height, and so its table, follows the crest
            question = {
                "flows_m3s": result["flows_m3s"],
                "tails_m": result["tail_levels_m"],
                "weed_m": result["weed_margin_m"],
                "floor_rl_m": result["floor_rl_m"],
                "bank_rl_m": result["bank_rl_m"],
                "crest_rl_m": one["crest_rl_m"],
                "head_uncertainty_m": result["head_uncertainty_m"],
            }
            answer = {
                "crest_needed_m": one["crest_needed_m"],
                "flows": [{key: flow[key] for key in KEYS} for flow in one["flows"]],
            }
            args = {"table": one["table"], "tail_bed_m": TAIL_BED_M, "question": question}
            said = answered(lambda answer=answer: answer)  # type: ignore[misc]
            made.append(case(f"{one['described']} {changes}", "judge", args, said))
    return made
