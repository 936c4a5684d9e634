"""How high to set the crest: free flow, freeboard and approach over a range of flows.

A structure does not change the level downstream at a flow, only the one upstream (Utah State
Univ. BIE 5300/6300 lecture 2, 2005, read). So the crest must sit no lower than the modular limit
times the head below the tail level, at every flow: in a wide channel the least flow can govern.
The answer is a table with reasons, not one number; it is planning help, not a design certificate.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.rounding import fixed
from app.hydraulics.channel.sections import Section
from app.hydraulics.channel.uniform import afflux, backwater_reach, froude, normal_depth
from app.hydraulics.rating.inverse import discharge_to_head
from app.hydraulics.structure.bounds import FROUDE_LIMIT
from app.hydraulics.structure.device import Device

WEED_MARGIN_M = 0.05  # common practice: check again with the tail 50 mm higher
FREEBOARD_LEAST_M = 0.15  # common practice, or 20 % of the depth, whichever is more
FREEBOARD_SHARE = 0.20
FROUDE_BETTER = 0.45  # common practice: surface still smooth


@dataclass(frozen=True)
class TailChannel:
    """Uniform flow in the channel below: section, Manning's n, bed slope, bed level."""

    section: Section
    roughness: float
    slope: float
    bed_level_m: float


@dataclass(frozen=True, kw_only=True)
class SillChoice:
    """A crest level judged over a range of flows. Arrays have one item a flow; levels in m."""

    crest_level_m: float
    crest_needed_m: float  # least crest level that keeps every flow free, weed included
    crest_highest_m: float  # greatest one the banks allow; NaN when the bank is not known
    discharge_m3s: Floats
    head_m: Floats
    tail_level_m: Floats  # without weed
    submergence_ratio: Floats  # without weed
    submergence_weedy: Floats  # with the tail raised by the weed margin
    modular_limit: Floats
    upstream_level_m: Floats
    freeboard_m: Floats  # NaN when the bank is not known
    freeboard_needed_m: Floats
    froude: Floats  # in the approach; NaN when it is not known
    afflux_m: Floats
    backwater_m: tuple[Floats, Floats] | None  # shorter and longer guess; None without a slope
    verdicts: tuple[str, ...]  # one a flow: suits, suits with care, does not suit
    reasons: tuple[tuple[str, ...], ...]
    verdict: str  # the worst of them


def sill_choice(
    device: Device,
    discharge_m3s: ArrayLike,
    *,
    tail_levels_m: ArrayLike | None = None,
    tail: TailChannel | None = None,
    floor_level_m: float | None = None,
    bank_level_m: float | None = None,
    approach: Section | None = None,
    crest_level_m: float | None = None,
    channel_slope: float | None = None,
    weed_margin_m: float = WEED_MARGIN_M,
) -> SillChoice:
    """Judge a crest level, or find the least that suits, over a range of flows.

    Parameters
    ----------
    device : Device
        The structure; its modular limit decides.
    discharge_m3s : array_like, shape (n,)
        Flows to look at, least to greatest: at least the ends of the range.
    tail_levels_m : array_like, shape (n,), optional
        Tail level at each flow, best from a survey with a gauging.
    tail : TailChannel, optional
        Used instead: uniform flow below, with the roughness of the weed season.
    floor_level_m : float, optional
        Bed of the approach; the crest is never set below it.
    bank_level_m : float, optional
        Lowest bank upstream within the backwater.
    approach : Section, optional
        For the Froude number; needs the floor level.
    crest_level_m : float, optional
        Crest to judge; without it the least suitable one is taken.
    channel_slope : float, optional
        Bed slope upstream, for the backwater reach; that of the tail channel if not given.
    weed_margin_m : float
        Tail rise allowed for weed.

    Raises
    ------
    BadInput
        When flows are not positive, tail levels are missing or do not pair with the flows, or a
        flow is more than the device can pass.
    """
    flows = np.atleast_1d(np.asarray(discharge_m3s, float))
    if flows.ndim != 1 or not np.all(np.isfinite(flows) & (flows > 0)):
        raise BadInput("discharge_m3s", discharge_m3s, "flows must be above 0", "Leave out 0")
    tail_levels = _tail_levels(flows, tail_levels_m, tail)
    heads = discharge_to_head(device, flows)
    if np.any(~np.isfinite(heads)):
        worst = float(flows[~np.isfinite(heads)].max())
        raise BadInput(
            "discharge_m3s", worst, "is more than this structure passes", "Take a larger structure"
        )
    limit = np.asarray(device.modular_limit(heads), float)
    known = np.isfinite(limit)
    needs = np.where(known, tail_levels + weed_margin_m - limit * heads, -np.inf)
    floor = -np.inf if floor_level_m is None else floor_level_m
    needed = float(max(needs.max(), floor))
    if not np.isfinite(needed):
        needed = float(tail_levels.max())  # nothing is known of drowning: keep it above the tail
    crest = needed if crest_level_m is None else float(crest_level_m)

    upstream = crest + heads
    bottom = crest if floor_level_m is None else floor_level_m
    board_needed = np.maximum(FREEBOARD_LEAST_M, FREEBOARD_SHARE * (upstream - bottom))
    bank = np.nan if bank_level_m is None else bank_level_m
    # a freeboard of 20 % of the depth solved for the level; without a bed it is 20 % of the head
    top = float(heads.max())
    if floor_level_m is None:
        highest = bank - top - max(FREEBOARD_LEAST_M, FREEBOARD_SHARE * top)
    else:
        level = (bank + FREEBOARD_SHARE * floor_level_m) / (1.0 + FREEBOARD_SHARE)
        highest = min(bank - FREEBOARD_LEAST_M, level) - top
    speed = np.full(flows.shape, np.nan)
    if approach is not None and floor_level_m is not None:
        speed = froude(approach, upstream - floor_level_m, flows)
    slope = channel_slope if channel_slope is not None else (tail.slope if tail else None)
    rise = afflux(upstream, tail_levels)
    ratio = np.maximum(tail_levels - crest, 0.0) / heads
    weedy = np.maximum(tail_levels + weed_margin_m - crest, 0.0) / heads
    judged = [
        _judge(
            device,
            head=float(heads[i]),
            ratio=float(ratio[i]),
            weedy=float(weedy[i]),
            limit=float(limit[i]),
            freeboard=float(bank - upstream[i]),
            freeboard_needed=float(board_needed[i]),
            speed=float(speed[i]),
        )
        for i in range(len(flows))
    ]
    if floor_level_m is not None and crest < floor_level_m:
        low = f"crest {fixed(floor_level_m - crest, 3)} m below the approach bed"
        judged = [(2, (*reasons, low)) for _, reasons in judged]
    words = ("suits", "suits with care", "does not suit")
    return SillChoice(
        crest_level_m=crest,
        crest_needed_m=needed,
        crest_highest_m=highest,
        discharge_m3s=flows,
        head_m=heads,
        tail_level_m=tail_levels,
        submergence_ratio=ratio,
        submergence_weedy=weedy,
        modular_limit=limit,
        upstream_level_m=upstream,
        freeboard_m=bank - upstream,
        freeboard_needed_m=board_needed,
        froude=speed,
        afflux_m=rise,
        backwater_m=None if slope is None else backwater_reach(rise, slope),
        verdicts=tuple(words[grade] for grade, _ in judged),
        reasons=tuple(reasons for _, reasons in judged),
        verdict=words[max(grade for grade, _ in judged)],
    )


def _tail_levels(flows: Floats, levels: ArrayLike | None, tail: TailChannel | None) -> Floats:
    if levels is not None:
        given = np.atleast_1d(np.asarray(levels, float))
        if given.shape != flows.shape or not np.all(np.isfinite(given)):
            raise BadInput("tail_levels_m", levels, "one tail level a flow is needed", "Pair them")
        return given
    if tail is None:
        raise BadInput(
            "tail_levels_m",
            None,
            "nothing is known of the tail",
            "Give tail levels from a survey, or the tail channel's section, slope and roughness",
        )
    depth = normal_depth(tail.section, flows, tail.roughness, tail.slope)
    if np.any(~np.isfinite(depth)):
        raise BadInput(
            "tail", float(flows.max()), "the tail section cannot carry this flow", "Check it"
        )
    return tail.bed_level_m + depth


def _judge(
    device: Device,
    *,
    head: float,
    ratio: float,
    weedy: float,
    limit: float,
    freeboard: float,
    freeboard_needed: float,
    speed: float,
) -> tuple[int, tuple[str, ...]]:
    """Grade one flow: 0 suits, 1 with care, 2 does not suit; with the reasons."""
    found: list[tuple[int, str]] = []
    if np.isnan(limit):
        if device.can_drown:
            found.append((1, "modular limit not known"))
    elif ratio > limit:
        found.append(
            (2, f"drowns: submergence {fixed(ratio, 2)} above the limit {fixed(limit, 2)}")
        )
    elif weedy > limit + 1e-9:
        found.append(
            (1, f"drowns with weed: submergence {fixed(weedy, 2)} above {fixed(limit, 2)}")
        )
    if np.isnan(freeboard):
        found.append((1, "bank level not known"))
    elif freeboard < 0:
        found.append((2, f"water {fixed(-freeboard, 3)} m above the bank"))
    elif freeboard < freeboard_needed - 1e-9:
        found.append(
            (2, f"freeboard {fixed(freeboard, 3)} m, {fixed(freeboard_needed, 3)} m wanted")
        )
    if np.isnan(speed):
        found.append((1, "approach not known"))
    elif speed > FROUDE_LIMIT:
        found.append(
            (2, f"approach too fast: Froude number {fixed(speed, 2)} above {FROUDE_LIMIT}")
        )
    elif speed > FROUDE_BETTER:
        found.append((1, f"approach quick: Froude number {fixed(speed, 2)}"))
    if head < device.head_min_m:
        found.append(
            (1, f"head {fixed(head, 3)} m below the range from {fixed(device.head_min_m, 3)} m")
        )
    if head > device.head_max_m:
        found.append(
            (2, f"head {fixed(head, 3)} m above the range to {fixed(device.head_max_m, 3)} m")
        )
    grade = max((grade for grade, _ in found), default=0)
    return grade, tuple(reason for _, reason in found)
