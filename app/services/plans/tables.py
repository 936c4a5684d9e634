"""The plans of a site as a list, a line for each candidate and flow."""

from typing import Any

from sqlmodel import Session

from app.language.tables import Column, Table
from app.services.plans.make import plans
from app.services.sites.register import get_site

PLAN_COLUMNS = (
    Column("plan_id", "Plan"),
    Column("name", "Name"),
    Column("by", "Made by"),
    Column("created_at", "Made, UTC"),
    Column("candidate", "Candidate"),
    Column("described", "Structure"),
    Column("crest_rl_m", "Crest, m"),
    Column("flow", "Flow"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("head_m", "Head, m"),
    Column("discharge_uncertainty_pct", "Uncertainty of the discharge, %"),
    Column("crest_needed_m", "Crest needed, m"),
    Column("submergence_ratio", "Submergence"),
    Column("submergence_weedy", "Submergence with weed"),
    Column("modular_limit", "Modular limit"),
    Column("upstream_level_m", "Level upstream, m"),
    Column("freeboard_m", "Freeboard upstream, m"),
    Column("froude", "Approach Froude number"),
    Column("fill_min", "Pond filled in, min"),
    Column("verdict", "Verdict at this flow"),
    Column("reasons", "Reasons"),
    Column("candidate_verdict", "Verdict of the candidate"),
    Column("problem", "Problem"),
)


def plan_table(session: Session, site_id: int) -> Table:
    """Return all plans of a site, a line for each candidate and flow."""
    site = get_site(session, site_id)
    rows: list[dict[str, Any]] = []
    for view in plans(session, site_id):
        for number, one in enumerate(view.candidates):
            head = {
                "plan_id": view.plan.id, "name": view.plan.name, "by": view.by,
                "created_at": view.plan.created_at, "candidate": number + 1,
                "described": one["described"], "crest_rl_m": one.get("crest_rl_m"),
                "candidate_verdict": one["verdict"],
            }  # fmt: skip
            if "problem" in one:
                p = one["problem"]
                rows.append(head | {"problem": f"{p['field']} {p['value']}: {p['rule']}"})
            rows += [flow | head | {"flow": flow["name"]} for flow in one.get("flows", [])]
    return Table(f"plans-{site.code}", PLAN_COLUMNS, rows)
