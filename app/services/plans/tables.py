"""The plans of a site as a list, a line for each candidate and flow."""

from collections.abc import Iterator
from typing import Any

from sqlmodel import Session

from app.language.tables import Column, Table
from app.services.plans.make import get_plan, plans
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


UPSTREAM_COLUMNS = (
    Column("candidate", "Candidate"),
    Column("described", "Structure"),
    Column("chainage_m", "Upstream of the spot, m"),
    Column("name", "Section"),
    Column("bed_rl_m", "Bed, m"),
    Column("bank_rl_m", "Lowest bank, m"),
    Column("level_least_m", "Level at the least flow, m"),
    Column("level_middle_m", "Level at the middle flow, m"),
    Column("level_greatest_m", "Level at the greatest flow, m"),
    Column("rise_m", "Raised at the greatest flow, m"),
    Column("freeboard_m", "Freeboard at the greatest flow, m"),
)
POND_COLUMNS = (
    Column("candidate", "Candidate"),
    Column("described", "Structure"),
    Column("flow", "Flow"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("length_m", "Length of the head pond, m"),
    Column("beyond_survey", "Reaches beyond the survey"),
    Column("volume_m3", "Water in it, m3"),
    Column("extra_m3", "Held back by the structure, m3"),
    Column("surface_m2", "Surface, m2"),
    Column("freeboard_m", "Least freeboard along it, m"),
    Column("freeboard_at_m", "There, upstream of the spot, m"),
    Column("fill_min", "Filled after, min"),
    Column("problem", "Problem"),
)


def upstream_table(session: Session, plan_id: int) -> Table:
    """Return the water level at each section upstream of each candidate of a plan."""
    rows = []
    for head, found, _ in _upstream(session, plan_id):
        for section in found.get("sections", []):
            least, middle, greatest = section["levels_m"]
            levels = {"level_least_m": least, "level_middle_m": middle}
            rows.append(section | head | levels | {"level_greatest_m": greatest})
    return Table(f"sections-plan-{plan_id}", UPSTREAM_COLUMNS, rows)


def pond_table(session: Session, plan_id: int) -> Table:
    """Return the head pond of each candidate of a plan, a line for each flow."""
    rows: list[dict[str, Any]] = []
    for head, found, flows in _upstream(session, plan_id):
        if found["problem"]:
            rows.append(head | {"problem": found["problem"]})
        rows += [
            pond | head | {"flow": flow["name"], "discharge_m3s": flow["discharge_m3s"]}
            for pond, flow in zip(found.get("flows", []), flows, strict=False)
        ]
    return Table(f"ponds-plan-{plan_id}", POND_COLUMNS, rows)


def _upstream(
    session: Session, plan_id: int
) -> Iterator[tuple[dict[str, Any], dict[str, Any], list[dict[str, Any]]]]:
    """Yield name, water upstream and flows of each candidate that has it; older plans have none."""
    for number, one in enumerate(get_plan(session, plan_id).candidates):
        if "upstream" in one:
            head = {"candidate": number + 1, "described": one["described"]}
            yield head, one["upstream"], one["flows"]


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
