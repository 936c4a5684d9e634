"""The question as the office's form asks it, and a plan's form filled from a row of the answer.

Boxes that a plan has too bear the names they have there, so that what was typed travels on.
"""

from typing import Any

from app.errors import BadInput
from app.hydraulics.base.units import LENGTH_M, LITRE
from app.hydraulics.channel.sections import Trapezoid
from app.hydraulics.install.sill import WEED_MARGIN_M
from app.language import forms
from app.language.forms import Form
from app.language.typed import shown
from app.services.plans.choosing.question import RACE_LIMITS, Question, check
from app.services.plans.choosing.wishes import WISHES
from app.services.plans.inputs import pairs
from app.services.sites.structures import LEVEL_M

USUAL: dict[str, str] = {
    "q_min_l_s": "", "q_max_l_s": "", "race_width_m": "", "race_slope_m": "0", "bed_slope": "",
    "roughness": "0.035", "bank_m": "", "tail_depths": "", "rise_m": "", "floor_rl_m": "",
    "weed_margin_mm": f"{WEED_MARGIN_M / LENGTH_M['mm']:g}", "head_uncertainty_mm": "3",
    **{wish.key: "" for wish in WISHES},
}  # fmt: skip
BOXES = {
    "min": "q_min_l_s", "max": "q_max_l_s", "bank": "bank_m", "weed": "weed_margin_mm",
    "rise": "rise_m", "race": "bed_slope",
}  # fmt: skip


def texts(form: Form) -> dict[str, str]:
    """Return the boxes of the form and nothing else; what is missing as usual."""
    return {key: form.get(key, usual)[:4000] for key, usual in USUAL.items()}


def from_form(form: Form) -> Question:
    """Return the question of a form.

    Raises
    ------
    BadInput
        For the first box that breaks a rule.
    """
    asked, mm = texts(form), LENGTH_M["mm"]
    least = forms.needed(asked, "q_min_l_s", low=1e-4, high=1e8, unit="L/s")
    most = forms.needed(asked, "q_max_l_s", low=1e-4, high=1e8, unit="L/s")
    width = forms.needed(asked, "race_width_m", low=0.0, high=RACE_LIMITS["b"][1], unit="m")
    lean = forms.number(asked, "race_slope_m", low=0.0, high=RACE_LIMITS["m"][1]) or 0.0
    if width == 0.0 and lean == 0.0:
        raise BadInput("race_width_m", "0", "a race has a width", "Give its bottom width.")
    slope = forms.number(
        asked, "bed_slope", low=RACE_LIMITS["slope"][0], high=RACE_LIMITS["slope"][1]
    )
    roughness = forms.number(asked, "roughness", low=RACE_LIMITS["n"][0], high=RACE_LIMITS["n"][1])
    known = pairs("tail_depths", asked["tail_depths"])
    if not known and (slope is None or roughness is None):
        raise BadInput(
            "tail_depths", "", "nothing is known of the tail",
            "Give slope and roughness of the race, or tail depths at known flows.",
        )  # fmt: skip
    weed = forms.number(asked, "weed_margin_mm", low=0, high=2000, unit="mm")
    head = forms.number(asked, "head_uncertainty_mm", low=0.1, high=200, unit="mm")
    forms.number(asked, "floor_rl_m", low=-LEVEL_M, high=LEVEL_M, unit="m")
    question = Question(
        least_m3s=least * LITRE,
        most_m3s=most * LITRE,
        section=Trapezoid(width, lean),
        bed_slope=slope,
        roughness=roughness,
        bank_m=forms.needed(asked, "bank_m", low=0.0, high=50.0, unit="m"),
        weed_margin_m=WEED_MARGIN_M if weed is None else weed * mm,
        rise_m=forms.number(asked, "rise_m", low=0.0, high=50.0, unit="m"),
        head_uncertainty_m=(3.0 if head is None else head) * mm,
        tail_known=known,
        wishes=frozenset(wish.key for wish in WISHES if asked[wish.key]),
    )
    try:
        check(question)
    except BadInput as error:
        box = BOXES.get(error.field, error.field)
        raise BadInput(box, asked.get(box, ""), error.rule, error.remedy) from error
    return question


def plan_of(form: Form, asked: Question, row: dict[str, Any]) -> dict[str, str]:
    """Return the boxes of a plan of one row: its structure and crest, the race, the flows.

    Heights over the bed become reduced levels by the floor's; without one the bed counts as 0.
    """
    given = texts(form)
    floor = forms.number(given, "floor_rl_m", low=-LEVEL_M, high=LEVEL_M, unit="m") or 0.0
    stated = {k: v for k, v in row["stated"].items() if k != "size"}
    size = row["stated"].get("size", "")
    same = (
        "q_min_l_s", "q_max_l_s", "race_width_m", "race_slope_m", "bed_slope", "roughness",
        "weed_margin_mm", "head_uncertainty_mm",
    )  # fmt: skip
    boxes = {key: given[key] for key in same} | {
        "name": row["described"][:80],
        "floor_rl_m": shown(floor, 9),
        "bank_rl_m": shown(floor + asked.bank_m, 9),
        "tail_known": "\n".join(
            f"{shown(flow / LITRE, 9)} {shown(floor + depth, 9)}"
            for flow, depth in asked.tail_known
        ),
        "candidate_1": f"{row['family']}|{size}",
        "dims_1": ", ".join(f"{key}={value}" for key, value in stated.items()),
    }
    if not given["floor_rl_m"].strip():
        boxes["note"] = "Levels over the bed of the race, which counts as 0 m."
    if "crest_m" in row:
        boxes["crest_rl_m"] = shown(floor + row["crest_m"], 9)
    return boxes
