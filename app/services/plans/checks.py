"""What was seen on the ground and what the permit says, beside the sums of a plan."""

from typing import Any

import numpy as np

from app.services.plans.inputs import ASKS, PlanInputs

WIDTHS_STRAIGHT = 5.0  # AS 3778.4.6:2007 cl. 6.2.2, read
GRADES = ("suits", "suits with care", "does not suit")


def surface_m(asked: PlanInputs, candidate: dict[str, Any]) -> float:
    if "flows" not in candidate or asked.section is None:
        return 0.0
    depth = candidate["flows"][-1]["upstream_level_m"] - asked.floor_rl_m
    return float(asked.section.top_width(np.asarray(depth)))


def ground_checks(asked: PlanInputs, surface_m: float) -> list[dict[str, Any]]:
    """Return what was seen on the ground; an answer not given stays unknown."""
    found = []
    for ask in ASKS:
        answer = asked.answers[ask.key] or "not known"
        detail = ""
        if ask.key == "straight" and surface_m > 0:
            need = WIDTHS_STRAIGHT * surface_m
            detail = f"{need:.1f} m wanted (5 widths of {surface_m:.2f} m)"
            if asked.straight_m is not None:
                detail += f", {asked.straight_m:g} m there"
                if asked.straight_m < need - 1e-9:
                    answer = "no"
        found.append(
            {
                "key": ask.key, "question": ask.question, "answer": answer, "detail": detail,
                "source": ask.source, "provenance": ask.provenance, "blocks": ask.blocks,
            }
        )  # fmt: skip
    return found


def with_checks(candidate: dict[str, Any], checks: list[dict[str, Any]]) -> tuple[str, list[str]]:
    grade = GRADES.index(candidate["verdict"])
    reasons = list(candidate.get("notes", []))
    for check in checks:
        if check["answer"] == "no":
            grade = max(grade, 2 if check["blocks"] else 1)
            reasons.append(f"{check['question']}: no. {check['detail']}".strip())
        elif check["answer"] == "not known":
            grade = max(grade, 1)
            reasons.append(f"{check['question']}: not known. {check['detail']}".strip())
    if candidate.get("notes"):
        grade = max(grade, 1)
    return GRADES[grade], reasons


def permit_words(asked: PlanInputs) -> str:
    """Return how the greatest flow stands to the permit."""
    if asked.permit_m3s is None:
        return "No permit rate given."
    most, limit = asked.flows_m3s[-1], asked.permit_m3s
    words = f"Permit rate {limit * 1000:g} L/s; greatest flow planned for {most * 1000:g} L/s"
    if most < limit:
        return f"{words}: less than may be taken. The structure must measure all that may come."
    return f"{words}."
