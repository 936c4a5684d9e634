"""Dimensions a person states about a structure, and sources of what is known of it."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from app.errors import BadInput
from app.hydraulics.base import units

Dims = dict[str, str | float]


class Provenance(StrEnum):
    """How a number got here."""

    READ = "read"
    MEMORY = "from memory"
    DERIVED = "derived"
    PRACTICE = "common practice"


TESTED_AGAINST = {
    Provenance.READ: "of its published table",
    Provenance.MEMORY: "of the table as remembered",
    Provenance.DERIVED: "of figures worked out from its own equation",
    Provenance.PRACTICE: "of figures worked out from its own equation",
}


@dataclass(frozen=True)
class Source:
    """A published text, or a derivation, and how it was used."""

    text: str
    provenance: Provenance


@dataclass(frozen=True, kw_only=True)
class Dimension:
    """One thing a person states about a structure; forms and --help-dims come from these.

    `tolerance` is the as-built tolerance (k = 2, in the dimension's own unit) that enters the
    uncertainty budget: the device is rebuilt with the dimension moved by it, or by 1 % of a length
    where that is less (common practice). 0 leaves it out.
    """

    key: str
    label: str
    unit: str = "m"
    kind: str = "length"  # length | slope | angle | count | choice | text
    required: bool = True
    default: str | float | None = None
    low: float | None = None
    high: float | None = None
    choices: tuple[str, ...] = ()
    help: str = ""
    aliases: tuple[str, ...] = ()
    choice_aliases: Mapping[str, str] = field(default_factory=dict)
    tolerance: float = 0.0
    low_open: bool = False
    race: str = ""
    """What of the race it is, so that a plan can fill it in: sill, width or slope."""

    def parse(self, value: str | float) -> str | float:
        """Return the value in SI, or the canonical choice.

        Raises
        ------
        BadInput
            Naming the dimension, the value, the rule and the remedy.
        """
        if self.kind == "choice":
            return self._choice(str(value))
        if self.kind == "text":
            return str(value).strip()
        read = units.length_m if self.kind == "length" else units.number
        number = read(self.key, value, low=self.low, high=self.high)
        unit = f" {self.unit}" if self.unit else ""
        below = self.low is not None and (
            number < self.low or (self.low_open and number == self.low)
        )
        if below:
            word = "above" if self.low_open else "at least"
            raise BadInput(
                self.key,
                value,
                f"{self.label} must be {word} {self.low:g}{unit}",
                "Check the figure and its unit; lengths are in metres.",
            )
        if self.high is not None and number > self.high:
            raise BadInput(
                self.key,
                value,
                f"{self.label} must be at most {self.high:g}{unit}",
                "Check the figure and its unit; lengths are in metres.",
            )
        return number

    def _choice(self, text: str) -> str:
        wanted = canonical(text)
        for choice in self.choices:
            if canonical(choice) == wanted:
                return choice
        for alias, choice in self.choice_aliases.items():
            if canonical(alias) == wanted:
                return choice
        raise BadInput(
            self.key,
            text,
            f"{self.label} must be one of the listed",
            "Use one of: " + ", ".join(self.choices) + ".",
        )


def canonical(text: str) -> str:
    """Fold spelling: case, spaces, inch and foot words, trailing zeros ("0.60 m" = "0.6m")."""
    folded = text.strip().lower().replace(",", ".")
    folded = folded.replace("inches", "in").replace("inch", "in").replace('"', "in")
    folded = folded.replace("feet", "ft").replace("foot", "ft").replace("'", "ft")
    folded = re.sub(r"[\s_]+", "", folded)
    return re.sub(r"\d+(?:\.\d+)?", lambda m: f"{float(m.group()):g}", folded)
