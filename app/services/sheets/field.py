"""Sheets to fill by hand, and the card for the field: for a day on which the phone is no help."""

import math

from app.errors import SillbookError
from app.hydraulics.base.rounding import fixed
from app.language import trade, words
from app.records.sites import Structure
from app.services.install.hold_points import CAUTIONS, STOPS
from app.services.ratings.curve import curve_at, round_heads
from app.services.sheets.parts import Asked, Grid, Section
from app.services.sites.dated import device_of, in_force
from app.services.sites.views import ratings_of, zeros_of
from app.services.visits.round_sheet import ROUND_CAUTIONS

CARD_HEADS = 28
PER_UNIT = {"mm": 1000.0, "cm": 100.0, "m": 1.0}
PLACES = {"mm": 0, "cm": 1, "m": 3}


def field_sheets(asked: Asked) -> list[Section]:
    """Return empty sheets: reading, gauging, level run, hold point, visit, a page each."""
    unit = asked.site.head_unit
    cautions = [asked.site.hazards] if asked.site.hazards else []
    cautions += [*ROUND_CAUTIONS]
    names = ", ".join(one.name for one in asked.structures) or "………………"
    who = [("Structure", names), ("Who reads", ""), ("Day", ""), ("Water, weather", "")]
    stages = ", ".join(trade.TAILWATER.values())
    return [
        Section(title="Before you go to the water",
            words=[*cautions, "Copy the sheet into the office the same day: Old readings."],
        ),
        Section(title="Head readings",
            facts=who,
            grids=[_empty((f"Time, {words.offset_words(asked.site.utc_offset_min)}",
                           f"Staff, {unit}", f"Again, {unit}", f"Again, {unit}",
                           f"Tail staff, {unit}", "As found / left", "Remark"), 22)],
            words=[f"Tailwater: {stages}. Wait until the pond has filled and the flow is steady."],
            on_new_page=True,
        ),
        Section(title="Check gauging by current meter",
            facts=[*who, ("Meter, its number", ""), ("Head before, during, after", "")],
            grids=[_empty(("From bank, m", "Depth, m", "At depth, m", "Revolutions", "Seconds",
                           "Speed, m/s", "Remark"), 22)],
            on_new_page=True,
        ),
        Section(title="Check gauging by volume or by salt",
            facts=[*who, ("Vessel, L, or salt, g", ""), ("Head before, during, after", "")],
            grids=[_empty(("Number or time", "Seconds", "Volume, L", "Conductivity, µS/cm",
                           "Temperature, °C", "Remark"), 22)],
            on_new_page=True,
        ),
        Section(title="Level run",
            facts=[*who, ("Level, its number", ""), ("Benchmark and its level, m", "")],
            grids=[_empty(("Point", "Backsight, m", "Intermediate, m", "Foresight, m",
                           "Distance, m", "Remark"), 22)],
            words=["Close on the benchmark. Both rules of the sums must agree before you leave."],
            on_new_page=True,
        ),
        Section(title="Hold points while setting",
            facts=who,
            grids=[Grid(("Hold point", "Read or measured", "Go or stop", "Who, when"),
                        [[stop.title, "", "", ""] for stop in STOPS], "Hold points")],
            words=list(CAUTIONS.values()),
            on_new_page=True,
        ),
        Section(title="Visit",
            facts=[*who, ("Arrived, left", ""), ("As found: head and state", ""),
                   ("Done: cleaned, weed cut, silt out, repaired", ""),
                   ("As left: head and state", ""), ("Logger downloaded, clock", ""),
                   ("Zero checked by level", ""), ("Still open", "")],
            on_new_page=True,
            blank_rows=12,
        ),
    ]  # fmt: skip


def _empty(heads: tuple[str, ...], count: int) -> Grid:
    return Grid(heads, [[""] * len(heads)] * count, "To fill in")


def cards(asked: Asked) -> list[Section]:
    """Return the card of each structure: staff reading to discharge, and the highest tailwater."""
    return [_card(asked, one, number > 1) for number, one in enumerate(asked.structures, 1)] or [
        Section(title="Card", words=["No structure is on record."])
    ]


def _card(asked: Asked, structure: Structure, on_new_page: bool) -> Section:
    assert structure.id is not None
    rating = in_force(ratings_of(asked.session, [structure.id]), asked.now)
    zero = in_force(zeros_of(asked.session, [structure.id]), asked.now)
    out = Section(title=f"Card: {structure.name}", on_new_page=on_new_page)
    if rating is None or zero is None:
        lacking = "rating" if rating is None else "gauge zero"
        out.words.append(f"No {lacking} is in force: this card cannot be made.")
        return out
    try:
        device = device_of(rating)
    except SillbookError as error:
        out.words.append(f"The rating cannot be worked out any more: {error}")
        return out
    unit = asked.site.head_unit
    scale, places = PER_UNIT[unit], PLACES[unit]
    offset_mm = zero.offset_m * 1000.0
    lowest = round_heads(device.head_min_m, device.head_max_m, CARD_HEADS)
    # whole millimetres of the staff, as it is read; the head under each follows from the zero
    staffs = sorted({round(1000.0 * head - offset_mm) for head in lowest})
    heads_m = [(staff + offset_mm) / 1000.0 for staff in staffs]
    rated = curve_at(device, structure, heads_m)
    limits = device.modular_limit(rated.head_m) if device.can_drown else None
    rows = []
    for place, staff_mm in enumerate(staffs):
        tail = ""
        if limits is not None and math.isfinite(float(limits[place])):
            tail_m = float(limits[place]) * heads_m[place] - zero.tail_offset_m
            tail = fixed(math.floor(tail_m * 1000.0) / 1000.0 * scale, places)
        pct = float(rated.uncertainty_pct[place])
        flow = words.discharge(float(rated.discharge_m3s[place]), pct)
        shown = fixed(staff_mm / 1000.0 * scale, places)
        rows.append([shown, words.millimetres(heads_m[place]), flow, tail])
    most = (
        f"{words.millimetres(heads_m[0])} to {words.millimetres(heads_m[-1])}" if rows else "none"
    )
    out.facts += [
        ("Rating", f"{rating.id}, from {asked.local(rating.valid_from)}: {device.describe()}"),
        ("Gauge zero", f"{zero.id}, from {asked.local(zero.valid_from)}: add "
                       f"{zero.offset_m * 1000:+.1f} mm to the staff"),
        ("Head range", most),
        ("Hazards", asked.site.hazards or "none noted"),
    ]  # fmt: skip
    named = f"Staff, {unit}"
    out.grids.append(
        Grid((named, "Head", "Discharge, free flow, k=2", f"Free to a tail staff of, {unit}"),
             rows, "Card")
    )  # fmt: skip
    if limits is None:
        out.words.append("It does not drown by this rating: no tail staff is asked.")
    out.words.append(
        "A help for reading on the spot, no certificate. Read from where you stand safely; "
        "never alone in moving water."
    )
    return out
