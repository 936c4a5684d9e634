"""What is told of one structure in answer to `choose`: figures, verdict, reasons, and its rank."""

import re
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from app.hydraulics.families.workshop.sizes import Trial
from app.hydraulics.install.sill import SillChoice
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Device, Flag, flag_words
from app.services.plans.checks import GRADES
from app.services.plans.choosing.question import Question
from app.services.plans.choosing.wishes import carried, fall_m, wished

WIDEN_SHARE = 1.5
"""An entrance wider than so many times the race at its bank needs the race widened."""
TOLD_APART = int(Flag.BELOW_RANGE | Flag.ABOVE_RANGE | Flag.APPROACH_TOO_FAST)
"""Flags that the verdict of each flow says in words of its own."""


def told(asked: Question, trial: Trial, device: Device, choice: SillChoice) -> dict[str, Any]:
    """Return what is told of one structure with its crest."""
    rated = rate(device, choice.head_m, head_uncertainty_m=asked.head_uncertainty_m)
    flows = [
        {
            "discharge_m3s": choice.discharge_m3s[i],
            "head_m": choice.head_m[i],
            "uncertainty_pct": rated.uncertainty_pct[i],
            "submergence_ratio": choice.submergence_ratio[i],
            "submergence_weedy": choice.submergence_weedy[i],
            "modular_limit": choice.modular_limit[i],
            "freeboard_m": choice.freeboard_m[i],
            "froude": choice.froude[i],
            "flags": flag_words(int(rated.flags[i])),
            "verdict": choice.verdicts[i],
        }
        for i in range(choice.head_m.size)
    ]
    grade, reasons = _reasons(choice, [int(f) for f in rated.flags])
    more, wider, fits = _fits(asked, device)
    short = float((choice.freeboard_needed_m - choice.freeboard_m).max())
    over = float(choice.head_m[-1]) - device.head_max_m
    misfit = sum(max(x, 0.0) for x in (short, wider, over))
    rise = float(choice.afflux_m.max())
    if asked.rise_m is not None and rise > asked.rise_m + 1e-9:
        fits.append(f"raises the water upstream by {rise:.3f} m, {asked.rise_m:.3f} m allowed")
        more = 2
    weight = carried(device)
    against = wished(asked.wishes, choice, _opening(device), weight)
    grade = max(grade, more, 1 if against else 0)
    pct = rated.uncertainty_pct
    known = np.isfinite(choice.modular_limit)
    free = bool(np.all(choice.submergence_ratio[known] <= choice.modular_limit[known] + 1e-9))
    return {
        **_name(trial),
        "described": device.describe(),
        "dims": dict(device.dims),
        "verdict": GRADES[grade],
        "misfit_m": misfit,
        "reasons": [*fits, *reasons, *against],
        "in_range_least": bool(choice.head_m[0] >= device.head_min_m),
        "in_range_most": bool(choice.head_m[-1] <= device.head_max_m),
        "head_range_m": [device.head_min_m, device.head_max_m],
        "range_m3s": _range(device),
        "head_least_m": choice.head_m[0],
        "head_most_m": choice.head_m[-1],
        "crest_m": choice.crest_level_m,
        "crest_needed_m": choice.crest_needed_m,
        "crest_free_m": max(choice.crest_needed_m - asked.weed_margin_m, 0.0),
        "crest_highest_m": choice.crest_highest_m,
        "free_over_range": free if known.all() else None,
        **_nearest_drowning(choice),
        "upstream_m": choice.upstream_level_m[-1],
        "rise_m": rise,
        "freeboard_m": choice.freeboard_m.min(),
        "freeboard_needed_m": choice.freeboard_needed_m.max(),
        "fall_m": fall_m(choice),
        **asdict(weight),
        "froude_most": choice.froude.max(),
        "uncertainty_least_flow_pct": pct[0],
        "uncertainty_most_flow_pct": pct[-1],
        "uncertainty_worst_pct": pct.max() if np.isfinite(pct).all() else None,
        "sources": [f"{s.text} ({s.provenance})" for s in device.sources],
        "flows": flows,
    }


def _nearest_drowning(choice: SillChoice) -> dict[str, Any]:
    """Return submergence and limit at the flow that is nearest to drowning."""
    spare = choice.modular_limit - choice.submergence_ratio
    i = int(np.nanargmin(spare)) if np.isfinite(spare).any() else -1
    return {
        "nearest_drowning_m3s": choice.discharge_m3s[i],
        "submergence_ratio": choice.submergence_ratio[i],
        "submergence_weedy": choice.submergence_weedy[i],
        "modular_limit": choice.modular_limit[i],
    }


def _name(trial: Trial) -> dict[str, Any]:
    return {
        "family": trial.family.key,
        "family_name": trial.family.name,
        "size": trial.label,
        "stated": dict(trial.dims),
    }


def unsuited(trial: Trial, reason: str) -> dict[str, Any]:
    """Return the row of a structure that cannot stand there at all."""
    described = f"{trial.family.name}, {trial.label}"
    row = {**_name(trial), "described": described, "dims": dict(trial.dims)}
    return {**row, "verdict": GRADES[2], "reasons": [reason]}


def _range(device: Device) -> list[float]:
    """Return what passes at the ends of the tested heads, m3/s."""
    ends = device.free_flow(np.array([device.head_min_m, device.head_max_m])).discharge_m3s
    return [float(q) for q in ends]


def _fits(asked: Question, device: Device) -> tuple[int, float, list[str]]:
    """Return how well the plan fits the race at its bank: grade, m too wide, what is to be said."""
    widths = _widths(device)
    if widths is None:
        return 0, 0.0, []
    narrow, wide = widths
    there = float(asked.section.top_width(np.asarray(asked.bank_m)))
    if narrow > there + 1e-9:
        words = f"wider than the race: {narrow:.2f} m, the race {there:.2f} m at its bank"
        return 2, narrow - there, [words]
    if wide > WIDEN_SHARE * there:
        words = f"the race must be widened to {wide:.2f} m, {there:.2f} m at its bank now"
        return 1, 0.0, [words]
    return 0, 0.0, []


def _widths(device: Device) -> tuple[float, float] | None:
    """Return the narrowest and the widest place between the walls in plan, m; None without one."""
    outline = device.outline()
    views = [] if outline is None else [v for v in outline.views if v.title == "Plan"]
    if not views:
        return None
    halves = [abs(y) for line in views[0].lines for _, y in line.points]
    return 2.0 * min(halves), 2.0 * max(halves)


def _opening(device: Device) -> float | None:
    """Return the width of the throat or crest, m; None where none is named, as of a V-notch."""
    outline = device.outline()
    parts = () if outline is None else outline.parts
    return min((p.named_m for p in parts if p.rule.startswith("throat width")), default=None)


def _reasons(choice: SillChoice, flags: Sequence[int]) -> tuple[int, list[str]]:
    """Return the worst grade and each kind of reason once, at the flow where it is said worst."""
    said: dict[str, tuple[int, int, str]] = {}
    for i, (verdict, reasons) in enumerate(zip(choice.verdicts, choice.reasons, strict=True)):
        for text in reasons:
            kind = re.split(r"[:\d]", text, maxsplit=1)[0].strip()
            grade = GRADES.index(verdict)
            held = said.get(kind)
            lowest = kind.startswith("head") and "below" in text  # worst at the least flow
            if held is None or grade > held[0] or (grade == held[0] and not lowest):
                said[kind] = (grade, i, text)
    for i, bits in enumerate(flags):
        for words in flag_words(bits & ~TOLD_APART):
            said.setdefault(words, (1, i, words))
    ranked = sorted(said.values(), key=lambda item: -item[0])
    worst = max((grade for grade, _, _ in ranked), default=0)
    return worst, [f"at {choice.discharge_m3s[i] * 1000:.3g} L/s {t}" for _, i, t in ranked]


def rank(row: dict[str, Any]) -> tuple[int, int, float, float]:
    """Suits first; then the uncertainty over the range, then the rise; what fails by how far."""
    grade = GRADES.index(row["verdict"])
    if "flows" not in row:
        return grade, 1, 0.0, 0.0
    worst = row["uncertainty_worst_pct"]
    misfit = round(row["misfit_m"], 2) if grade == 2 else 0.0
    return grade, 0, misfit, 1e9 if worst is None else float(worst)
