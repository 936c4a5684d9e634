"""A question of `choose`, and how it is read from the texts of a command line or a form."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base import units
from app.hydraulics.base.arrays import Floats
from app.hydraulics.channel.sections import Trapezoid
from app.hydraulics.install.sill import WEED_MARGIN_M
from app.services.plans.choosing.wishes import WISHES

KEYS = {"b": "bottom width, m", "m": "side slope", "slope": "bed slope", "n": "Manning's n"}
SHAPES = {"trap": ("b", "m"), "rect": ("b",), "tri": ("m",)}
RACE_LIMITS = {"b": (0.0, 500.0), "m": (0.0, 10.0), "slope": (1e-6, 0.5), "n": (0.005, 0.5)}


FLOWS = 9


@dataclass(frozen=True, kw_only=True)
class Question:
    """What is asked, SI. Heights are over the race's bed at the structure; None not known."""

    least_m3s: float
    most_m3s: float
    section: Trapezoid
    bed_slope: float | None
    roughness: float | None
    bank_m: float
    weed_margin_m: float = WEED_MARGIN_M
    rise_m: float | None = None
    head_uncertainty_m: float = 0.003
    tail_known: tuple[tuple[float, float], ...] = ()
    wishes: frozenset[str] = frozenset()

    @property
    def flows_m3s(self) -> Floats:
        """Return the flows looked at, evenly spread on a scale of ratios."""
        return np.geomspace(self.least_m3s, self.most_m3s, FLOWS)


def check(asked: Question) -> None:
    """Refuse flows, bank and margins that cannot be; raises BadInput."""
    for field, value in (("min", asked.least_m3s), ("max", asked.most_m3s)):
        if not (math.isfinite(value) and 0.0 < value <= 1e5):
            raise BadInput(field, value, "is a flow above 0, m3/s", "Give m3/s, such as 0.004.")
    if not asked.least_m3s < asked.most_m3s:
        raise BadInput(
            "max", asked.most_m3s, f"must be more than the least flow, {asked.least_m3s:g} m3/s",
            "Give the least flow as min and the greatest as max.",
        )  # fmt: skip
    if not (math.isfinite(asked.bank_m) and 0.0 < asked.bank_m <= 50.0):
        raise BadInput("bank", asked.bank_m, "is a height over the bed, m, above 0", "Such as 0.6.")
    for field, margin in (("weed", asked.weed_margin_m), ("rise", asked.rise_m or 0.0)):
        if not (math.isfinite(margin) and 0.0 <= margin <= 50.0):
            raise BadInput(field, margin, "is a height of 0 m or more", "Such as 0.05.")


def race(text: str) -> tuple[Trapezoid, float | None, float | None]:
    """Return section, bed slope and roughness from "trap:b=0.8,m=1,slope=0.0005,n=0.03".

    Slope and n may be left out where tail depths are known.

    Raises
    ------
    BadInput
    """
    shape, colon, rest = text.partition(":")
    shape = shape.strip().lower()
    if not colon or shape not in SHAPES:
        raise BadInput(
            "race", text, "begins with its shape: trap:, rect: or tri:",
            "Write trap:b=0.8,m=1,slope=0.0005,n=0.03.",
        )  # fmt: skip
    found: dict[str, float] = {}
    for piece in filter(None, (p.strip() for p in rest.replace(";", ",").split(","))):
        key, equals, value = (p.strip() for p in piece.partition("="))
        if not equals or key not in KEYS or key in found:
            raise BadInput(
                "race", piece, "is none of " + ", ".join(f"{k} ({w})" for k, w in KEYS.items()),
                "Write each once as key=value, with points for decimals.",
            )  # fmt: skip
        low, high = RACE_LIMITS[key]
        read = units.length_m if key == "b" else units.number
        number = read(f"race {key}", value, low=low, high=high)
        if not low <= number <= high:
            raise BadInput(f"race {key}", value, f"lies between {low:g} and {high:g}", "Check it.")
        found[key] = number
    missing = [k for k in SHAPES[shape] if k not in found]
    if missing:
        raise BadInput("race", text, f"lacks {', '.join(missing)}", f"Add {missing[0]}=.")
    b, m = found.get("b", 0.0), found.get("m", 0.0)
    if shape == "rect" and m:
        raise BadInput("race m", m, "a rectangle has upright walls", "Write trap: instead.")
    return Trapezoid(b, m), found.get("slope"), found.get("n")


def tail(text: str) -> tuple[tuple[float, float], ...]:
    """Return pairs of m3/s and depth, m, from "0.02:0.18, 0.1:0.33"; raises BadInput."""
    pairs = []
    for piece in filter(None, (p.strip() for p in text.replace(";", ",").split(","))):
        flow, colon, depth = piece.partition(":")
        if not colon:
            raise BadInput("tail", piece, "reads flow:depth", "Such as 0.02:0.18, m3/s and m.")
        pairs.append((units.number("tail flow", flow, high=1e5), units.length_m("tail", depth)))
    return tuple(pairs)


def question(form: dict[str, Any]) -> Question:
    """Return a question from texts: min, max, race, bank; weed, rise, tail.

    The uncertainty of a head and the wishes may stand there too.

    Raises
    ------
    BadInput
        For the first that is missing or cannot be.
    """

    def needed(key: str) -> str:
        value = form.get(key)
        if value in (None, ""):
            raise BadInput(key, "not given", "is needed", f"Add {key}.")
        return str(value)

    def height(key: str, usual: float) -> float:
        value = form.get(key)
        return usual if value in (None, "") else units.length_m(key, str(value))

    section, slope, roughness = race(needed("race"))
    return Question(
        least_m3s=units.number("min", needed("min"), high=units.BELOW_THOUSAND),
        most_m3s=units.number("max", needed("max"), high=units.BELOW_THOUSAND),
        section=section,
        bed_slope=slope,
        roughness=roughness,
        bank_m=units.length_m("bank", needed("bank")),
        weed_margin_m=height("weed", WEED_MARGIN_M),
        rise_m=height("rise", 0.0) if form.get("rise") not in (None, "") else None,
        head_uncertainty_m=height("head_uncertainty", Question.head_uncertainty_m),
        tail_known=tail(str(form.get("tail") or "")),
        wishes=frozenset(wish.key for wish in WISHES if form.get(wish.key)),
    )
