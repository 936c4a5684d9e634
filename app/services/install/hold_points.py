"""The stops of setting a flume: what each asks and what it may cost to pass it."""

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Stop:
    """One stop of the sequence; `parts` are the sections of the record that belong to it."""

    key: str
    title: str
    check: str
    passes: str
    asks: tuple[tuple[str, str], ...]
    parts: tuple[str, ...]
    cautions: tuple[str, ...]


# The sequence and its limits are common practice, without a published source.
STOPS = (
    Stop(
        key="S1",
        title="Bed",
        check="Blinding level, firm, drained",
        passes="within 5 mm (common practice)",
        asks=(
            ("firm", "Bed firm"),
            ("drained", "Drained, water led round"),
            ("level", "Blinding level within 5 mm"),
            ("services", "Buried services located"),
        ),
        parts=("concrete", "creep"),
        cautions=("trench", "water"),
    ),
    Stop(
        key="S2",
        title="Set",
        check="Four corners levelled, axis along a string line",
        passes="corner range within tolerance, axis along the flow",
        asks=(
            ("axis", "Axis along the flow, by string line"),
            ("arrow", "Flow arrow points downstream"),
            ("packers", "Packers firm under all corners"),
        ),
        parts=("corners", "widths"),
        cautions=("lifting", "trench"),
    ),
    Stop(
        key="S3",
        title="Brace",
        check="Spreaders in the throat at top and bottom, wooden packing",
        passes="width change at most 1 mm (common practice)",
        asks=(
            ("top", "Spreader at the top"),
            ("bottom", "Spreader at the bottom"),
            ("packing", "Wooden packing: the brace does not bow the walls"),
        ),
        parts=("widths",),
        cautions=("lifting",),
    ),
    Stop(
        key="S4",
        title="Hold-down",
        check="Pins, straps, water or bags inside",
        passes="factor of safety as calculated, 1.2 to 1.3 (common practice)",
        asks=(("pins", "Pins or straps tight"), ("ballast", "Ballast in place")),
        parts=("box",),
        cautions=("lifting", "water"),
    ),
    Stop(
        key="S5",
        title="First lift",
        check="Poured evenly both sides to just below mid-floor, then left",
        passes="corners read again: no lift",
        asks=(("even", "Both sides filled evenly"), ("stiff", "Left to stiffen before the next")),
        parts=("moment", "lift", "box", "concrete", "corners", "widths", "delivered"),
        cautions=("concrete", "lifting"),
    ),
    Stop(
        key="S6",
        title="Second lift",
        check="Both sides within 100 mm of each other",
        passes="widths at three heights, change at most 1 mm (common practice)",
        asks=(("even", "Both sides within 100 mm of each other"),),
        parts=("moment", "lift", "concrete", "corners", "widths", "delivered"),
        cautions=("concrete", "lifting"),
    ),
    Stop(
        key="S7",
        title="Strip and cure",
        check="Covered, kept damp and free of frost",
        passes="3 days or more before backfill, longer when cold (common practice)",
        asks=(
            ("covered", "Covered, damp, free of frost"),
            ("days", "3 days or more since the pour"),
        ),
        parts=("corners", "widths"),
        cautions=("concrete",),
    ),
    Stop(
        key="S8",
        title="Backfill",
        check="Thin layers, both sides, light tamping",
        passes="widths again, change at most 1 mm (common practice)",
        asks=(
            ("layers", "Thin layers, both sides in turn"),
            ("machine", "No machine near the walls"),
            ("cutoffs", "Wings and cut-offs filled tight"),
        ),
        parts=("moment", "corners", "widths", "creep"),
        cautions=("trench", "lifting"),
    ),
    Stop(
        key="S9",
        title="As built",
        check="All dimensions and levels",
        passes="written to the site; the rating is made from the as-built",
        asks=(
            ("run", "Level run booked with all four corners"),
            ("staff", "Staff fixed, a mark levelled"),
            ("dimensions", "Every dimension measured"),
        ),
        parts=("corners", "widths", "tail", "dimensions"),
        cautions=("water",),
    ),
)

STOP_OF = {stop.key: stop for stop in STOPS}

CAUTIONS = {
    "water": "Moving water takes people off their feet. Keep the bypass and the gate under one "
    "person's control: locked and tagged.",
    "trench": "Trench sides fall in. Batter or shore them by a competent person's decision, call "
    "for buried services, and have nobody below when a load or a machine moves.",
    "lifting": "Lift with two people or a machine. Nobody stands under a load or between the "
    "box and the trench side.",
    "concrete": "Wet concrete burns skin and eyes. Gloves, boots, goggles; wash at once; get "
    "help for burns.",
    "certify": "These totals and checks do not design or certify. Local codes come first; walls, "
    "anchors, ponds and anything structural are for a licensed person.",
}
