"""Surveyed sections upstream of the spot, a line each: distance, bed, bank, width, and a name."""

import re
from dataclasses import dataclass
from itertools import pairwise

from app.errors import BadInput
from app.language.typed import read

MOST_SECTIONS = 60
FIGURES = (("distance", 0.01, 50_000.0), ("bed", -9000.0, 9000.0), ("bank", -9000.0, 9000.0),
           ("bottom width", 0.0, 500.0))  # fmt: skip


@dataclass(frozen=True)
class Surveyed:
    """A section: metres upstream, reduced levels of bed and lowest bank, bottom width or None."""

    chainage_m: float
    bed_rl_m: float
    bank_rl_m: float | None
    width_m: float | None
    name: str


def surveyed(field: str, text: str) -> tuple[Surveyed, ...]:
    """Return the sections of lines such as "120 48.98 49.60 0.9 upper gate", nearest first.

    Distance upstream and bed level are needed; bank, bottom width and a name may follow.

    Raises
    ------
    BadInput
    """
    found = [_section(field, line) for line in map(str.strip, re.split(r"[\n;]", text)) if line]
    found.sort(key=lambda one: one.chainage_m)
    if len(found) > MOST_SECTIONS:
        raise BadInput(field, f"{len(found)} sections", f"at most {MOST_SECTIONS}", "Leave some.")
    for lower, upper in pairwise(found):
        if upper.chainage_m == lower.chainage_m:
            raise BadInput(
                field, f"{upper.chainage_m:g} m", "stands twice", "Give each distance once."
            )
    return tuple(found)


def _section(field: str, line: str) -> Surveyed:
    words = line.split()
    count = 0
    while count < min(len(words), len(FIGURES)) and re.match(r"[-+\u2212]?[\d.,]", words[count]):
        count += 1
    if count < 2:
        raise BadInput(
            field, line[:80], "each line holds a distance upstream and a bed level, in m",
            "Such as 120 48.98 49.60 0.9 upper gate.",
        )  # fmt: skip
    figures: list[float | None] = [None] * len(FIGURES)
    for i, word in enumerate(words[:count]):
        what, low, high = FIGURES[i]
        value = read(field, word, unit="m", low=low, high=high)
        if not low <= value <= high:
            raise BadInput(field, word, f"{what} lies between {low:g} and {high:g} m", "Check it.")
        figures[i] = value
    distance, bed, bank, width = figures
    assert distance is not None
    assert bed is not None
    if bank is not None and bank <= bed:
        raise BadInput(field, line[:80], "the bank lies below the bed", "Check both levels.")
    return Surveyed(distance, bed, bank, width, " ".join(words[count:])[:60])
