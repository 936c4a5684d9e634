"""The sums of a plan: each candidate judged at the least, middle and greatest flow.

Planning help with its reasons beside it; it neither designs nor certifies.
"""

import math
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.result import plain
from app.hydraulics.channel.sections import Trapezoid
from app.hydraulics.channel.tail_levels import tail_levels
from app.hydraulics.channel.uniform import normal_depth
from app.hydraulics.install.sill import SillChoice, sill_choice
from app.hydraulics.rating.curve import phone_table
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device, flag_words
from app.services.plans.backwater import upstream
from app.services.plans.checks import (
    GRADES,
    ground_checks,
    permit_words,
    surface_m,
    with_checks,
)
from app.services.plans.drawing import draw
from app.services.plans.inputs import PlanInputs, Wanted
from app.services.plans.pond import fill_min, pond
from app.services.plans.race import filled

FLOW_NAMES = ("least", "middle", "greatest")
STEP_M = 0.005  # a crest is set to 5 mm: the needed level is rounded up to it
LEAST_HEAD_M = 0.06  # common practice: less head at the least flow and 3 mm cost too much
SWEEP_KEEPS = 3  # of every size, so many that suit best
PHONE_NODES = 64


def work_out(asked: PlanInputs) -> dict[str, Any]:
    """Return the result of a plan as JSON values; a candidate that fails carries its problem."""
    levels, notes = tail_at(asked)
    found = []
    for wanted in asked.wanted:
        found += candidates(asked, wanted, levels)
    checks = ground_checks(asked, max((surface_m(asked, c) for c in found), default=0.0))
    for number, candidate in enumerate(found):
        candidate["number"] = number
        candidate["verdict"], candidate["check_reasons"] = with_checks(candidate, checks)
    ranked = [c for c in found if "problem" not in c]
    result = {
        "flows_m3s": list(asked.flows_m3s),
        "tail_levels_m": levels.tolist(),
        "tail_notes": notes,
        "floor_rl_m": asked.floor_rl_m,
        "tail_floor_rl_m": asked.tail_floor_rl_m,
        "bank_rl_m": asked.bank_rl_m,
        "weed_margin_m": asked.weed_margin_m,
        "head_uncertainty_m": asked.head_uncertainty_m,
        "width_m": asked.section.b if isinstance(asked.section, Trapezoid) else None,
        "lean": asked.section.m if isinstance(asked.section, Trapezoid) else None,
        "checks": checks,
        "permit": permit_words(asked),
        "candidates": found,
        "best": found.index(min(ranked, key=_rank)) if ranked else None,
    }
    for candidate in found:
        if "flows" in candidate:
            candidate["upstream"] = upstream(asked, candidate)
            if asked.pond_area_m2 is None and not candidate["upstream"]["problem"]:
                for flow, found_up in zip(
                    candidate["flows"], candidate["upstream"]["flows"], strict=True
                ):
                    flow["fill_min"] = found_up["fill_min"]
            candidate["drawing"] = draw(result, candidate, wide=False).as_dict()
    told = plain(result)
    assert isinstance(told, dict)
    return told


def _rank(candidate: dict[str, Any]) -> tuple[int, float]:
    return GRADES.index(candidate["verdict"]), candidate["flows"][0]["discharge_uncertainty_pct"]


def tail_at(asked: PlanInputs) -> tuple[Floats, list[str]]:
    """Return the tail level without weed at each flow, m, and what to know of it."""
    flows = np.array(asked.flows_m3s)
    if asked.tail_known:
        known = np.array(asked.tail_known)
        levels, beyond = tail_levels(known[:, 0], known[:, 1], asked.tail_floor_rl_m, flows)
        notes = ["Tail levels from a survey at known flows, in between and beyond by a power law."]
        if beyond.any():
            names = [FLOW_NAMES[i] for i in np.flatnonzero(beyond)]
            notes.append(f"Beyond the surveyed flows at the {' and the '.join(names)} flow.")
        return levels, notes
    assert asked.section is not None
    assert asked.roughness is not None
    assert asked.bed_slope is not None
    depth = normal_depth(asked.section, flows, asked.roughness, asked.bed_slope)
    if np.any(~np.isfinite(depth)):
        raise BadInput("q_max_l_s", asked.asked["q_max_l_s"], "the race cannot carry it", "Check.")
    return asked.tail_floor_rl_m + depth, [
        f"Tail levels by uniform flow with n {asked.roughness:g} and slope {asked.bed_slope:g}: "
        "an estimate. Levels surveyed at known flows are better."
    ]


def candidates(asked: PlanInputs, wanted: Wanted, levels: Floats) -> list[dict[str, Any]]:
    """Return one candidate, or of every size those that suit best."""
    if not wanted.sweep:
        return [candidate(asked, wanted, wanted.dims, levels)]
    tried = [
        candidate(asked, wanted, {"size": size, **wanted.dims}, levels)
        for size in wanted.family.sizes
    ]
    sound = [c for c in tried if "problem" not in c]
    fits = [c for c in sound if not any(f["verdict"] == GRADES[2] for f in c["flows"])]
    if not fits:
        tried_words = f"none of {len(tried)} sizes suits; the nearest is shown"
        nearest = sorted(sound, key=_rank)[:1]
        for one in nearest:
            one["notes"].insert(0, tried_words)
        return nearest or tried[:1]
    return sorted(fits, key=_rank)[:SWEEP_KEEPS]


def candidate(
    asked: PlanInputs, wanted: Wanted, dims: dict[str, str], levels: Floats
) -> dict[str, Any]:
    """Judge one structure; what is refused is told and nothing else is lost."""
    shown: dict[str, Any] = {
        "row": wanted.row,
        "family": wanted.family.key,
        "family_name": wanted.family.name,
        "described": wanted.family.name,
        "verdict": GRADES[2],
    }
    try:
        device, choice = fitted(asked, wanted, dims, levels)
        shown |= told(asked, device, choice, levels)
    except BadInput as error:
        size = dims.get("size")
        label = wanted.family.sizes.get(size, size) if size else None
        shown["described"] = ", ".join(filter(None, (wanted.family.name, label)))
        shown["problem"] = error.as_dict()
    return shown


def fitted(
    asked: PlanInputs, wanted: Wanted, dims: dict[str, str], levels: Floats
) -> tuple[Device, SillChoice]:
    """Return the device and its crest; what the race or the crest decides is filled in.

    A sill's height over the bed decides the approach and so the head, which decides the crest:
    a few rounds settle it to a tenth of a millimetre.
    """
    given, sill = filled(asked.section, wanted.family, dims)
    height = max((asked.crest_rl_m or asked.floor_rl_m + 0.1) - asked.floor_rl_m, 0.0)
    for _ in range(25):
        if sill:
            given[sill] = f"{height:.5f}"
        device = wanted.family.build(given)
        choice = judged(asked, device, levels, None)
        crest = asked.crest_rl_m
        if crest is None:
            crest = math.ceil(choice.crest_needed_m / STEP_M - 1e-6) * STEP_M
        new = max(crest - asked.floor_rl_m, 0.0)
        settled = sill is None or abs(new - height) < 1e-4
        height = new
        if settled:
            break
    return device, judged(asked, device, levels, crest)


def judged(
    asked: PlanInputs, device: Device, levels: Floats, crest_rl_m: float | None
) -> SillChoice:
    return sill_choice(
        device,
        asked.flows_m3s,
        tail_levels_m=levels,
        floor_level_m=asked.floor_rl_m,
        bank_level_m=asked.bank_rl_m,
        approach=asked.section,
        crest_level_m=crest_rl_m,
        channel_slope=asked.bed_slope,
        weed_margin_m=asked.weed_margin_m,
    )


def told(asked: PlanInputs, device: Device, choice: SillChoice, levels: Floats) -> dict[str, Any]:
    """Return what a page, a phone and a file show of one candidate."""
    rated = rate(device, choice.head_m, head_uncertainty_m=asked.head_uncertainty_m)
    area, area_words = pond(asked, choice)
    alone = [
        sill_choice(
            device, [q], tail_levels_m=[t], floor_level_m=asked.floor_rl_m,
            weed_margin_m=asked.weed_margin_m,
        ).crest_needed_m
        for q, t in zip(asked.flows_m3s, levels, strict=True)
    ]  # fmt: skip
    flows = []
    for i, name in enumerate(FLOW_NAMES):
        flows.append(
            {
                "name": name,
                "discharge_m3s": choice.discharge_m3s[i],
                "head_m": choice.head_m[i],
                "discharge_uncertainty_pct": rated.uncertainty_pct[i],
                "flags": flag_words(int(rated.flags[i])),
                "tail_level_m": choice.tail_level_m[i],
                "crest_needed_m": alone[i],
                "submergence_ratio": choice.submergence_ratio[i],
                "submergence_weedy": choice.submergence_weedy[i],
                "modular_limit": choice.modular_limit[i],
                "upstream_level_m": choice.upstream_level_m[i],
                "freeboard_m": choice.freeboard_m[i],
                "freeboard_needed_m": choice.freeboard_needed_m[i],
                "froude": choice.froude[i],
                "afflux_m": choice.afflux_m[i],
                "fill_min": fill_min(asked, device, choice, i, area),
                "verdict": choice.verdicts[i],
                "reasons": list(choice.reasons[i]),
            }
        )
    notes = []
    if choice.crest_level_m + 1e-9 < choice.crest_needed_m:
        notes.append(f"the crest would have to stand at {choice.crest_needed_m:.3f} m")
    if choice.crest_highest_m < choice.crest_level_m:
        notes.append(f"the banks allow a crest to {choice.crest_highest_m:.3f} m only")
    if choice.head_m[0] < LEAST_HEAD_M:
        notes.append(
            f"head at the least flow {choice.head_m[0] * 1000:.0f} mm, under "
            f"{LEAST_HEAD_M * 1000:.0f} mm (common practice): a narrower one reads better"
        )
    reach = choice.backwater_m
    shown = {
        "described": device.describe(),
        "dims": dict(device.dims),
        "crest_rl_m": choice.crest_level_m,
        "crest_above_floor_m": choice.crest_level_m - asked.floor_rl_m,
        "crest_needed_m": choice.crest_needed_m,
        "crest_highest_m": choice.crest_highest_m,
        "head_range_m": [device.head_min_m, device.head_max_m],
        "flows": flows,
        "pond_area_m2": area,
        "pond_words": area_words,
        "pond_length_m": None if reach is None else [float(r.max()) for r in reach],
        "notes": notes,
        "hydraulic_verdict": choice.verdict,
        "verdict": choice.verdict,
        "sources": [f"{s.text} ({s.provenance})" for s in device.sources],
        "table": light_table(device),
    }
    return shown


def light_table(device: Device) -> dict[str, Any] | None:
    """Return a few nodes of the rating for the phone: enough to change a flow in the field.

    None for a throat that never controls: it has no table.
    """
    whole = phone_table(device)
    count = sum(
        head <= whole["head_max_m"] * (1 + 1e-9) for head in whole["heads_m"]
    )  # a plan stays in range
    if count < 2:
        return None
    take = sorted({round(i * (count - 1) / (PHONE_NODES - 1)) for i in range(PHONE_NODES)})
    columns = ("heads_m", "discharge_m3s", "device_pct", "exponent", "modular_limit")
    return {
        **{
            key: [None if whole[key][i] is None else float(f"{whole[key][i]:.6g}") for i in take]
            for key in columns
        },
        "head_min_m": whole["head_min_m"],
        "head_max_m": whole["head_max_m"],
        "cease_to_flow_m": whole["cease_to_flow_m"],
        "range_exponent": whole["range_exponent"],
        "can_drown": whole["can_drown"],
    }
