"""Surveyed sections along a race, and the section anywhere between two of them."""

from dataclasses import dataclass, replace

from app.hydraulics.base.arrays import Floats
from app.hydraulics.channel.sections import Section


@dataclass(frozen=True)
class Station:
    """A surveyed section: metres upstream of the structure, bed, shape, Manning's n, lowest bank.

    `bank_m` is NaN where it is not known. `name` tells a gate or a peg.
    """

    chainage_m: float
    bed_m: float
    section: Section
    roughness: float
    bank_m: float = float("nan")
    name: str = ""


@dataclass(frozen=True)
class Between(Section):
    """The section a share of the way from one surveyed section to another."""

    lower: Section
    upper: Section
    share: float

    def _mixed(self, what: str, y: Floats) -> Floats:
        below: Floats = getattr(self.lower, what)(y)
        above: Floats = getattr(self.upper, what)(y)
        return below + self.share * (above - below)

    @property
    def soffit_m(self) -> float:
        return min(self.lower.soffit_m, self.upper.soffit_m)

    def area(self, y: Floats) -> Floats:
        return self._mixed("area", y)

    def top_width(self, y: Floats) -> Floats:
        return self._mixed("top_width", y)

    def wetted_perimeter(self, y: Floats) -> Floats:
        return self._mixed("wetted_perimeter", y)

    def width_slope(self, y: Floats) -> Floats:
        return self._mixed("width_slope", y)

    def perimeter_slope(self, y: Floats) -> Floats:
        return self._mixed("perimeter_slope", y)

    def critical_guess(self, energy_m: Floats) -> Floats:
        return self._mixed("critical_guess", energy_m)


def between(lower: Station, upper: Station, share: float) -> Station:
    """Return the station a share of the way from one to the next."""

    def mix(a: float, b: float) -> float:
        return a + share * (b - a)

    same = lower.section == upper.section
    return replace(
        lower,
        chainage_m=mix(lower.chainage_m, upper.chainage_m),
        bed_m=mix(lower.bed_m, upper.bed_m),
        section=lower.section if same else Between(lower.section, upper.section, share),
        roughness=mix(lower.roughness, upper.roughness),
        bank_m=mix(lower.bank_m, upper.bank_m),
        name="",
    )
