"""What a plan asks, from a form in the office or an entry of the phone, as figures.

Both roads carry the same texts under the same names, so that a plan made on the phone is worked
out exactly as one typed in the office.
"""

import re
from dataclasses import dataclass
from functools import partial
from typing import Any

from app.errors import BadInput
from app.hydraulics.base.units import LENGTH_M, LITRE
from app.hydraulics.channel.sections import Section, Trapezoid
from app.hydraulics.families.registry import DEVICES
from app.hydraulics.install.sill import WEED_MARGIN_M
from app.hydraulics.structure.device import Family
from app.language import forms
from app.language.forms import Form
from app.language.typed import read
from app.language.words import counted
from app.services.plans.sections import Surveyed, surveyed
from app.services.sites.structures import LEVEL_M

CANDIDATES = 4
EVERY_SIZE = "*"

EMPTY: dict[str, str] = {
    "name": "", "q_min_l_s": "", "q_mid_l_s": "", "q_max_l_s": "", "flow_source": "",
    "permit_l_s": "", "permit_words": "", "race_width_m": "", "race_slope_m": "0",
    "bed_slope": "", "roughness": "0.035", "floor_rl_m": "", "tail_floor_rl_m": "",
    "tail_known": "", "tail_source": "", "bank_rl_m": "", "crest_rl_m": "",
    "weed_margin_mm": f"{WEED_MARGIN_M / LENGTH_M['mm']:g}", "pond_area_m2": "", "sections": "",
    "head_uncertainty_mm": "3", "straight_m": "",
    "confined": "", "straight": "", "firm": "", "access": "", "permission": "", "note": "",
    **{f"candidate_{i}": "" for i in range(1, CANDIDATES + 1)},
    **{f"dims_{i}": "" for i in range(1, CANDIDATES + 1)},
}  # fmt: skip


@dataclass(frozen=True)
class Ask:
    """A thing to see on the ground before a crest is chosen: question, source, provenance."""

    key: str
    question: str
    source: str
    provenance: str
    blocks: bool
    """True when the answer no means that the place does not suit."""


ASKS = (
    Ask("confined", "All the water goes through the structure, at high flow too",
        "ISO 18365, siting of a station", "from memory", True),
    Ask("straight", "The approach is straight and uniform; nothing turns the flow",
        "AS 3778.4.6:2007 cl. 6.2.2: at least 5 times the water-surface width at the greatest "
        "flow, upstream of the gauge", "read", False),
    Ask("firm", "The bed is firm and does not scour; the head pond will not fill with silt",
        "ISO 4359, siting", "from memory", True),
    Ask("access", "Safe to reach in flood and dark; nothing is taken off between here and where "
        "the flow is gauged", "WMO-No. 1044 vol. I, siting", "from memory", False),
    Ask("permission", "Permission for works in the water, fish passage and season were looked up",
        "local law and permit; ask who must be asked", "common practice", False),
)  # fmt: skip


@dataclass(frozen=True)
class Wanted:
    """One candidate as asked for: a family, and dimensions or a size; every size when `sweep`."""

    row: int
    family: Family
    dims: dict[str, str]
    sweep: bool = False


@dataclass(frozen=True, kw_only=True)
class PlanInputs:
    """A plan's question in SI; None for what is not known. `asked` keeps the texts as typed."""

    name: str
    flows_m3s: tuple[float, ...]
    flow_source: str
    permit_m3s: float | None
    permit_words: str
    section: Section | None
    bed_slope: float | None
    roughness: float | None
    floor_rl_m: float
    tail_floor_rl_m: float
    tail_known: tuple[tuple[float, float], ...]
    tail_source: str
    bank_rl_m: float | None
    crest_rl_m: float | None
    weed_margin_m: float
    pond_area_m2: float | None
    head_uncertainty_m: float
    straight_m: float | None
    sections: tuple[Surveyed, ...]
    answers: dict[str, str]
    wanted: tuple[Wanted, ...]
    note: str
    asked: dict[str, str]


def texts(form: Form) -> dict[str, str]:
    """Return the texts of a plan and nothing else of a form; what is missing as usual."""
    return {key: form.get(key, usual)[:4000] for key, usual in EMPTY.items()}


def plan_inputs(form: Form) -> PlanInputs:
    """Return the figures of a plan.

    Raises
    ------
    BadInput
        For the first field that breaks a rule.
    """
    asked = texts(form)
    level = partial(forms.number, asked, low=-LEVEL_M, high=LEVEL_M, unit="m")
    found = forms.together(
        name=lambda: forms.text(asked, "name", most=80, required=True),
        flows_m3s=lambda: _flows(asked),
        flow_source=lambda: forms.text(asked, "flow_source", most=400),
        permit=lambda: forms.number(asked, "permit_l_s", low=0, high=1e8, unit="L/s"),
        permit_words=lambda: forms.text(asked, "permit_words", most=400),
        width=lambda: _width(asked),
        lean=lambda: forms.number(asked, "race_slope_m", low=0, high=10) or 0.0,
        bed_slope=lambda: forms.number(asked, "bed_slope", low=1e-6, high=0.5),
        roughness=lambda: forms.number(asked, "roughness", low=0.005, high=0.5),
        floor_rl_m=lambda: forms.needed(asked, "floor_rl_m", low=-LEVEL_M, high=LEVEL_M, unit="m"),
        tail_floor=lambda: level("tail_floor_rl_m"),
        tail_known=lambda: pairs("tail_known", asked["tail_known"]),
        tail_source=lambda: forms.text(asked, "tail_source", most=400),
        bank_rl_m=lambda: level("bank_rl_m"),
        crest_rl_m=lambda: level("crest_rl_m"),
        weed=lambda: forms.number(asked, "weed_margin_mm", low=0, high=2000, unit="mm"),
        pond_area_m2=lambda: forms.number(asked, "pond_area_m2", low=0.01, high=1e7, unit="m²"),
        head=lambda: forms.number(asked, "head_uncertainty_mm", low=0.1, high=200, unit="mm"),
        straight_m=lambda: forms.number(
            asked, "straight_m", low=0, high=1e4, unit="m", thousands=True
        ),
        sections=lambda: surveyed("sections", asked["sections"]),
        answers=lambda: {ask.key: _answer(asked, ask.key) for ask in ASKS},
        wanted=lambda: _wanted(asked),
        note=lambda: forms.text(asked, "note", most=4000),
    )
    width, lean, floor = found.pop("width"), found.pop("lean"), found["floor_rl_m"]
    permit, weed, head = found.pop("permit"), found.pop("weed"), found.pop("head")
    tail_floor = found.pop("tail_floor")
    unknown = None in (width, found["bed_slope"], found["roughness"])
    if not found["tail_known"] and unknown:
        raise BadInput(
            "tail_known",
            "",
            "nothing is known of the tail",
            "Give tail levels surveyed at known flows, or the race's width, slope and roughness.",
        )
    if found["bank_rl_m"] is not None and found["bank_rl_m"] <= floor:
        raise BadInput("bank_rl_m", asked["bank_rl_m"], "lies below the race floor", "Check both.")
    mm = LENGTH_M["mm"]
    return PlanInputs(
        **found,
        permit_m3s=None if permit is None else permit * LITRE,
        section=None if width is None else Trapezoid(width, lean),
        tail_floor_rl_m=floor if tail_floor is None else tail_floor,
        weed_margin_m=WEED_MARGIN_M if weed is None else weed * mm,
        head_uncertainty_m=(3.0 if head is None else head) * mm,
        asked=asked,
    )


def _width(asked: Form) -> float | None:
    width = forms.number(asked, "race_width_m", low=0.0, high=500, unit="m")
    if width == 0.0 and not (forms.number(asked, "race_slope_m", low=0, high=10) or 0.0):
        raise BadInput("race_width_m", "0", "a race has a width", "Give its bottom width.")
    return width


def _answer(asked: Form, key: str) -> str:
    if asked[key] not in ("", "yes", "no"):
        raise BadInput(key, asked[key], "is yes, no or not known", "Choose one.")
    return asked[key]


def _flows(asked: Form) -> tuple[float, ...]:
    flow = partial(forms.needed, asked, low=1e-4, high=1e8, unit="L/s")
    found = forms.together(
        least=lambda: flow("q_min_l_s"),
        mid=lambda: forms.number(asked, "q_mid_l_s", low=1e-4, high=1e8, unit="L/s"),
        most=lambda: flow("q_max_l_s"),
    )
    least, mid, most = found["least"], found["mid"], found["most"]
    if mid is None:
        mid = (least * most) ** 0.5  # in the middle on a scale of ratios
    if not least < mid < most:
        raise BadInput(
            "q_mid_l_s" if least < most else "q_max_l_s",
            asked["q_mid_l_s"] if least < most else asked["q_max_l_s"],
            "flows go up from least to greatest",
            "Give least, middle and greatest in that order.",
        )
    return least * LITRE, mid * LITRE, most * LITRE


def pairs(field: str, text: str) -> tuple[tuple[float, float], ...]:
    """Return pairs of flow, m3/s, and level, m, from lines such as "20 L/s, 98.412".

    Raises
    ------
    BadInput
    """
    found = []
    for line in filter(None, (part.strip() for part in re.split(r"[\n;]", text))):
        words = line.replace("L/s", " ").replace("l/s", " ").replace("m ", " ").rstrip(" m")
        pieces = [p for p in re.split(r"\s+|,(?=\s)", words) if p.strip(" ,")]
        if len(pieces) != 2:
            raise BadInput(
                field,
                line[:80],
                "each line holds one flow in L/s and one level in m",
                "Such as 20 98.412, one pair a line.",
            )
        flow, level = (
            read(field, piece.strip(" ,"), unit=unit)
            for piece, unit in zip(pieces, ("L/s", "m"), strict=True)
        )
        found.append((flow * LITRE, level))
    if len(found) > 20:
        raise BadInput(field, counted(len(found), "pair"), "at most 20", "Leave some out.")
    return tuple(found)


def _wanted(asked: Form) -> tuple[Wanted, ...]:
    found = []
    for row in range(1, CANDIDATES + 1):
        choice = asked[f"candidate_{row}"].strip()
        if not choice:
            continue
        key, _, size = choice.partition("|")
        family = DEVICES.get(key)
        if family is None:
            raise BadInput(
                f"candidate_{row}", choice, "is not in the registry", "Choose from the list."
            )
        dims = {} if size in ("", EVERY_SIZE) else {"size": size}
        dims |= _dims(f"dims_{row}", asked[f"dims_{row}"])
        found.append(Wanted(row, family, dims, size == EVERY_SIZE))
    if not found:
        raise BadInput("candidate_1", "", "a plan needs a candidate", "Choose one structure.")
    return tuple(found)


def _dims(field: str, text: str) -> dict[str, str]:
    dims = {}
    for piece in filter(None, re.split(r"[\n;]|,(?=\s)|\s+(?=\w+\s*=)", text.strip())):
        key, equals, value = piece.partition("=")
        if not equals or not key.strip() or not value.strip():
            raise BadInput(
                field, piece.strip()[:80], "dimensions read key = value", "Such as b=0.4, L=0.8."
            )
        dims[key.strip()] = value.strip()
    return dims


def options() -> list[dict[str, Any]]:
    """Return the choices of a candidate: families with their sizes, straight from the registry."""
    found = []
    for family in DEVICES.values():
        sizes = [
            (f"{family.key}|{key}", f"{family.name}, {label}")
            for key, label in family.sizes.items()
        ]
        if sizes:
            sizes.insert(0, (f"{family.key}|{EVERY_SIZE}", f"{family.name}: every size that fits"))
        needs = [d for d in family.dimensions if d.key != "size"]
        if any(d.kind != "choice" for d in needs):
            sizes.append((f"{family.key}|", f"{family.name}: dimensions of your own"))
        example = ", ".join(
            f"{key}={value}"
            for key, value in family.example.items()
            if not any(d.key == key and d.race for d in needs)
        )
        filled = [d.key for d in needs if d.race]
        found.append(
            {
                "name": family.name,
                "choices": sizes,
                "example": example if not family.sizes or needs else "",
                "filled": filled,
                "dimensions": [(d.key, d.label) for d in needs],
            }
        )
    return found
