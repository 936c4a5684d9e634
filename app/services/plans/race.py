"""What of a structure the race or its crest decides: those dimensions are filled in."""

from collections.abc import Mapping

from app.hydraulics.channel.sections import Section, Trapezoid
from app.hydraulics.structure.device import Family
from app.language import typed


def filled(
    section: Section | None, family: Family, dims: Mapping[str, str | float]
) -> tuple[dict[str, str | float], str | None]:
    """Return the dimensions with the race's width and slope, and the key of the sill's height.

    The key is None where the height is stated, or belongs to the size. Nothing stated is replaced.
    """
    given = dict(dims)
    places = {d.race: d for d in family.dimensions if d.race}
    preset = family.presets.get(str(dims.get("size", "")), {})

    def open_(place: str) -> str | None:
        d = places.get(place)
        stated = d is None or d.key in preset or any(k in given for k in (d.key, *d.aliases))
        return None if stated or d is None else d.key

    width, slope, sill = open_("width"), open_("slope"), open_("sill")
    if isinstance(section, Trapezoid):
        if width:
            given[width] = typed.shown(section.b, 6)
        if slope and width:
            given[slope] = typed.shown(section.m, 6)
            if section.m > 0 and "approach" in {d.key for d in family.dimensions}:
                given.setdefault("approach", "trap")
    return given, sill
