"""A plan as its page shows it: figures as words, pictures at page size."""

from dataclasses import dataclass
from typing import Any

from app.language.drawing import Drawing
from app.services.plans.drawing import draw
from app.services.plans.make import PlanView

FLOW_ROWS = (
    ("Discharge", "discharge_m3s", "{:.3g} L/s", 1000.0),
    ("Head over the crest", "head_m", "{:.0f} mm", 1000.0),
    ("Uncertainty of the discharge", "discharge_uncertainty_pct", "{:.1f} %", 1.0),
    ("Crest needed, weed included", "crest_needed_m", "{:.3f} m", 1.0),
    ("Tail level, without weed", "tail_level_m", "{:.3f} m", 1.0),
    ("Submergence", "submergence_ratio", "{:.2f}", 1.0),
    ("Submergence with weed", "submergence_weedy", "{:.2f}", 1.0),
    ("Modular limit", "modular_limit", "{:.2f}", 1.0),
    ("Level upstream", "upstream_level_m", "{:.3f} m", 1.0),
    ("Raised by", "afflux_m", "{:.0f} mm", 1000.0),
    ("Freeboard upstream", "freeboard_m", "{:.3f} m", 1.0),
    ("Freeboard wanted", "freeboard_needed_m", "{:.3f} m", 1.0),
    ("Froude number of the approach", "froude", "{:.2f}", 1.0),
    ("Head pond filled after", "fill_min", "{:.0f} min", 1.0),
)


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One candidate on the page; `drawing` is None where it could not be judged."""

    number: int
    one: dict[str, Any]
    rows: tuple[tuple[str, tuple[str, ...]], ...]
    drawing: Drawing | None
    dims: str
    pond: str
    pond_rows: list[tuple[str, list[str]]]
    upstream: str


def candidates(view: PlanView) -> list[Shown]:
    """Return the candidates of a plan in the order asked for."""
    found = []
    for number, one in enumerate(view.candidates):
        if "problem" in one:
            found.append(
                Shown(
                    number=number,
                    one=one,
                    rows=(),
                    drawing=None,
                    dims="",
                    pond="",
                    pond_rows=[],
                    upstream="",
                )
            )
            continue
        rows = tuple(
            (label, tuple(_figure(flow.get(key), form, scale) for flow in one["flows"]))
            for label, key, form, scale in FLOW_ROWS
        )
        found.append(
            Shown(
                number=number,
                one=one,
                rows=rows,
                drawing=draw(view.plan.result, one, wide=True),
                dims=dims_of(one),
                pond=pond(one),
                pond_rows=pond_rows(one),
                upstream=upstream_words(one) if pond_rows(one) else "",
            )
        )
    return found


def dims_of(one: dict[str, Any]) -> str:
    """Return dimensions as people type them."""
    return ", ".join(
        f"{key} {value:.4g}" if isinstance(value, float) else f"{key} {value}"
        for key, value in one["dims"].items()
    )


def pond(one: dict[str, Any]) -> str:
    """Return length and area of the head pond in words."""
    upstream = one.get("upstream")
    if upstream and not upstream["problem"]:
        return "in the tables above, by the water surface upstream"
    length, area = one["pond_length_m"], one["pond_area_m2"]
    words = "length not known without a bed slope"
    if length is not None:
        words = f"felt {length[0]:.0f} to {length[1]:.0f} m upstream (common practice)"
    if area is None:
        return f"{words}; area {one['pond_words']}"
    return f"{words}; {area:.3g} m², {one['pond_words']}"


UPSTREAM_ROWS = (
    ("Length", "length_m", "{:.0f} m", 1.0),
    ("Water in it", "volume_m3", "{:.3g} m³", 1.0),
    ("Held back by the structure", "extra_m3", "{:.3g} m³", 1.0),
    ("Surface", "surface_m2", "{:.3g} m²", 1.0),
    ("Least freeboard along it", "freeboard_m", "{:.3f} m", 1.0),
    ("There, upstream of the spot", "freeboard_at_m", "{:.0f} m", 1.0),
    ("Filled after, from a dry race", "fill_min", "{:.0f} min", 1.0),
)


def pond_rows(one: dict[str, Any]) -> list[tuple[str, list[str]]]:
    """Return the head pond at each flow in words, a row a figure; empty where there is none."""
    flows = one.get("upstream", {}).get("flows", [])
    return [
        (label, [_pond_figure(flow, key, form, scale) for flow in flows])
        for label, key, form, scale in UPSTREAM_ROWS
        if flows
    ]


def _pond_figure(flow: dict[str, Any], key: str, form: str, scale: float) -> str:
    if flow["beyond_survey"] and key == "length_m":
        return "beyond the survey"
    words = _figure(flow[key], form, scale)
    partly = flow["beyond_survey"] and key in ("volume_m3", "extra_m3", "surface_m2")
    return f"over {words}" if partly else words


def upstream_words(one: dict[str, Any]) -> str:
    """Return how the water surface was found, and the check by the direct step."""
    upstream = one["upstream"]
    words = "Gradually varied flow by the standard step, Manning's n of the race; it ends where "
    words += "the rise is a hundredth of the depth before (Chow 1959, from memory). "
    if upstream["even"]:
        words += "An even race of the given slope, and the lowest bank as if it stood everywhere. "
    check = upstream["check"]
    if check and check["length_m"] is not None:
        words += f"Check at the greatest flow, curve {check['curve']}: by the direct step "
        words += f"{check['length_m']:.0f} m. "
    if any(flow["held_critical"] for flow in upstream["flows"]):
        words += "The flow cannot stay slow everywhere; there it is held at critical depth. "
    return words + "Filling is quasi-steady; waves on the way are left out (derived)."


def _figure(value: float | None, form: str, scale: float) -> str:
    return "not known" if value is None else form.format(value * scale)


def as_json(view: PlanView) -> dict[str, Any]:
    """Return a plan whole: what was asked, what came out, what was chosen."""
    plan = view.plan
    return {
        "plan_id": plan.id,
        "site_id": plan.site_id,
        "name": plan.name,
        "by": view.by,
        "created_at": plan.created_at.isoformat(),
        "engine": plan.engine,
        "inputs": plan.inputs,
        "result": plan.result,
        "choices": [
            {
                "candidate": c.candidate,
                "structure_id": c.structure_id,
                "rating_id": c.rating_id,
                "crest_rl_m": c.crest_rl_m,
                "reason": c.reason,
                "at": c.at.isoformat(),
            }
            for c in view.choices
        ],
    }
