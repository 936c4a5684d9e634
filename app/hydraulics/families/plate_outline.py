"""The picture of a thin plate with its notch: seen looking downstream, and in long section."""

from app.hydraulics.structure.outline import Line, Measure, Outline, Part, Points, View

NOTE = (
    "The edge is 1 to 2 mm thick and sharp upstream, the nappe aired below. Heads are gauged four "
    "to five greatest heads upstream, over the crest or the vertex."
)
UNSEEN = " Channel width or crest height were not given: drawn in usual proportion."


def plate_outline(
    parts: tuple[Part, ...],
    notch: Points,
    channel_m: float | None,
    height_m: float | None,
    marks: tuple[Measure, ...] = (),
) -> Outline:
    """Return the views of a plate; `notch` runs from rim to rim, its lowest level being 0.

    `marks` are measured in the front view, levels over the crest.
    """
    depth = max(y for _, y in notch)
    wide = 2.0 * max(abs(x) for x, _ in notch)
    p = height_m if height_m is not None else max(depth, 0.2)
    channel = channel_m if channel_m is not None else 2.0 * wide
    bed = "floor" if height_m is not None else "usual"
    bank = "edge" if channel_m is not None else "usual"
    top = p + depth
    half = channel / 2.0
    cut = tuple((x, y + p) for x, y in notch)
    front = (
        Line(((-half, top), *cut, (half, top))),
        Line(((-half, 0.0), (half, 0.0)), bed),
        Line(((-half, 0.0), (-half, top)), bank),
        Line(((half, 0.0), (half, top)), bank),
    )
    keys = {part.key for part in parts}
    across = [Measure(m.key, (m.start[0], m.start[1] + p), (m.end[0], m.end[1] + p)) for m in marks]
    if "p" in keys:
        across.append(Measure("p", (0.0, 0.0), (0.0, p)))
    if "B" in keys:
        across.append(Measure("B", (-half, 0.0), (half, 0.0)))
    side = (
        Line(((-4.0 * depth, 0.0), (0.0, 0.0)), bed),
        Line(((0.0, 0.0), (2.0 * depth, 0.0)), "usual"),
        Line(((0.0, 0.0), (0.0, p))),
        Line(((-4.0 * depth, p), (0.0, p)), "level"),
    )
    unseen = UNSEEN if height_m is None or channel_m is None else ""
    along = (Measure("p", (0.0, 0.0), (0.0, p)),) if "p" in keys else ()
    return Outline(
        parts,
        (
            View("Plate, looking downstream", front, tuple(across), along=False),
            View("Long section", side, along),
        ),
        NOTE + unseen,
    )


def plate_parts(p: float | None, B: float | None, *own: Part) -> tuple[Part, ...]:
    """Return the parts of a plate: its own first, then height and channel where they are known."""
    parts = list(own)
    if p is not None:
        parts.append(Part("p", "Crest height over the bed upstream", p, "site, 5 mm", "p"))
    if B is not None:
        parts.append(Part("B", "Channel width", B, "other surface, ISO", "B"))
    return tuple(parts)
