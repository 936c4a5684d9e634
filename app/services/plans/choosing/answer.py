"""Which structure for a race and a range of flows: every family and size, ranked, with reasons.

The crest height of each is found over all crest heights at once (`install.many`); what is told of
it is then worked out as a plan would, so that a plan made of a row shows the same figures. Planning
help with its reasons beside it; it neither designs nor certifies.
"""

import math
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.result import plain
from app.hydraulics.channel.tail_levels import tail_levels
from app.hydraulics.channel.uniform import normal_depth
from app.hydraulics.families.workshop.sizes import Trial, trials
from app.hydraulics.install.many import Maker, Many, Place, judge_many
from app.hydraulics.install.sill import SillChoice, sill_choice
from app.hydraulics.structure.device import Device
from app.services.plans.checks import GRADES
from app.services.plans.choosing.question import Question, check
from app.services.plans.choosing.verdicts import rank, told, unsuited
from app.services.plans.race import filled
from app.services.plans.work import STEP_M

CRESTS = 40
ROUNDS = 8
CAUTION = (
    "Planning help, not a design: a person looks at the place, local codes and permits come first."
)


def choose(asked: Question) -> dict[str, Any]:
    """Return every structure with its verdict, best first, as JSON values.

    Raises
    ------
    BadInput
        When flows, race or bank are impossible, or nothing is known of the tail.
    """
    check(asked)
    levels, note = _tail(asked)
    tried = trials(asked.section, asked.most_m3s)
    suited = [t for t in tried if not t.unsuited]
    place = Place(
        asked.section, asked.flows_m3s, levels, asked.bank_m, asked.weed_margin_m,
        asked.head_uncertainty_m,
    )  # fmt: skip
    crests = np.linspace(0.0, asked.bank_m, CRESTS)
    many = judge_many([maker(asked, t) for t in suited], place, crests)
    rows = [_worked_out(asked, t, levels, _first_crest(many, i)) for i, t in enumerate(suited)]
    rows += [unsuited(t, t.unsuited) for t in tried if t.unsuited]
    rows.sort(key=rank)
    for number, row in enumerate(rows, start=1):
        row["rank"] = number
        row["suits"] = row["verdict"] != GRADES[2]
        row["reason"] = "; ".join(row["reasons"])
    answer = plain(
        {
            "least_m3s": asked.least_m3s,
            "most_m3s": asked.most_m3s,
            "race": {
                "b_m": asked.section.b, "side_slope": asked.section.m,
                "bed_slope": asked.bed_slope, "roughness": asked.roughness,
            },
            "bank_m": asked.bank_m,
            "weed_margin_m": asked.weed_margin_m,
            "rise_m": asked.rise_m,
            "head_uncertainty_m": asked.head_uncertainty_m,
            "wishes": sorted(asked.wishes),
            "flows_m3s": asked.flows_m3s,
            "tail_depths_m": levels,
            "tail_note": note,
            "structures": len(rows),
            "combinations": len(suited) * CRESTS,
            "caution": CAUTION,
            "rows": rows,
        }
    )  # fmt: skip
    assert isinstance(answer, dict)
    return answer


def maker(asked: Question, trial: Trial) -> Maker:
    """Return what builds a trial's structure for a sill height."""
    given, sill = filled(asked.section, trial.family, trial.dims)
    if sill is None:
        return Maker(lambda _: trial.family.build(given), False)
    least = next(d.low or 0.0 for d in trial.family.dimensions if d.key == sill)
    return Maker(lambda p: trial.family.build({**given, sill: max(p, least)}), True)


def _first_crest(many: Many, row: int) -> float:
    """Return the crest to begin with: free with weed, else as high as the banks allow, m."""
    weedy, free = float(many.crest_weedy_m[row]), float(many.crest_free_m[row])
    return _crest(weedy, free, float(many.crest_highest_m[row]))


def _crest(weedy: float, free: float, highest: float) -> float:
    """Return the crest, to 5 mm: with weed if banks allow, else their best, else the needed one."""
    if math.isnan(weedy):
        return 0.0 if math.isnan(free) else _up(free)
    banks = 0.0 if math.isnan(highest) else math.floor(highest / STEP_M + 1e-6) * STEP_M
    return banks if free <= banks < weedy else _up(weedy)


def _up(level: float) -> float:
    return max(math.ceil(level / STEP_M - 1e-6) * STEP_M, 0.0)


def _tail(asked: Question) -> tuple[Floats, str]:
    """Return the tail depth over the bed at each flow, m, and how it is known."""
    if asked.tail_known:
        known = np.array(asked.tail_known)
        levels, beyond = tail_levels(known[:, 0], known[:, 1], 0.0, asked.flows_m3s)
        far = ", some beyond the surveyed flows" if beyond.any() else ""
        return levels, f"Tail depths surveyed at known flows, by a power law{far}."
    if asked.bed_slope is None or asked.roughness is None:
        raise BadInput(
            "race", "", "nothing is known of the tail",
            "Give slope and n of the race, or tail depths at known flows.",
        )  # fmt: skip
    depth = normal_depth(asked.section, asked.flows_m3s, asked.roughness, asked.bed_slope)
    words = f"Tail depths by uniform flow, n {asked.roughness:g}, slope {asked.bed_slope:g}"
    return depth, f"{words}: an estimate; levels surveyed at known flows are better."


def _settled(
    asked: Question, trial: Trial, levels: Floats, crest: float
) -> tuple[Device, SillChoice]:
    """Return the device with its crest, moved until its own rating agrees that it is free."""
    build = maker(asked, trial).build
    device = build(crest)
    for _ in range(ROUNDS):
        choice = sill_choice(
            device, asked.flows_m3s, tail_levels_m=levels, floor_level_m=0.0,
            bank_level_m=asked.bank_m, approach=asked.section, crest_level_m=crest,
            channel_slope=asked.bed_slope, weed_margin_m=asked.weed_margin_m,
        )  # fmt: skip
        weedy = choice.crest_needed_m
        free = max(weedy - asked.weed_margin_m, 0.0)
        better = _crest(weedy, free, choice.crest_highest_m)
        if better <= crest + 1e-9 and crest - better <= STEP_M + 1e-9:
            break
        crest = better
        device = build(crest)
    return device, choice


def _worked_out(asked: Question, trial: Trial, levels: Floats, crest: float) -> dict[str, Any]:
    try:
        device, choice = _settled(asked, trial, levels, crest)
    except BadInput as error:
        return unsuited(trial, f"{error.field} {error.value}: {error.rule}")
    return told(asked, trial, device, choice)
