"""Past gaugings as a book states them: a discharge, and its uncertainty as stated or unknown."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base import figures
from app.language import typed, words
from app.language.clock import iso
from app.language.typed import TwoMeanings, refuse_future
from app.records.entries import Entry
from app.records.people import Person
from app.services.books import stamps
from app.services.books.check import Checked, fits_all, metres, refuse_doubles
from app.services.books.preview import HELD, READY, REFUSED, Look, Seen, as_stored, register
from app.services.books.sheet import Row, Sheet, row_id
from app.services.entries.links import what_stands
from app.services.gaugings.results import GaugingResult, gauging_results, results_of
from app.services.sites.structures import place

MOST_FLOW = {"L/s": 1e6, "m3/s": 1e3}
SAME_SHARE = 1e-6  # two discharges of one time that differ by less are one gauging


@dataclass(kw_only=True)
class Gauged(Checked):
    """A row of a gauging with what was understood of it; its figures stay as written."""

    discharge: float | None = None
    uncertainty_pct: float | None = None


def check_gaugings(sheet: Sheet, rows: Sequence[Row], now: datetime) -> list[Gauged]:
    """Return every row as understood, in the order given."""
    order = stamps.order_of((row.cell("day") for row in rows), sheet.order)
    signs = {
        column: figures.decimal_sign([row.cell(column) for row in rows])
        for column in ("staff", "discharge", "uncertainty")
    }
    found = [_checked(sheet, row, order, signs, now) for row in rows]
    refuse_doubles(found)
    return found


def _checked(sheet: Sheet, row: Row, order: str, signs: dict[str, str], now: datetime) -> Gauged:
    one = Gauged(row=row)

    def when() -> None:
        text = stamps.joined(row.cell("day"), row.cell("time"))
        at = stamps.moment(text, order, sheet.utc_offset_min)
        refuse_future("day", at, now, text[:60])
        one.at = at

    def staff() -> None:
        if row.cell("staff"):
            one.staff_m = metres("staff", row.cell("staff"), sheet.unit, signs["staff"])
        else:
            one.notes.append("without a staff reading: no rating can be judged by it")

    def discharge() -> None:
        most = MOST_FLOW[sheet.flow_unit]
        one.discharge = _positive("discharge", row.cell("discharge"), signs["discharge"], most)

    def uncertainty() -> None:
        if row.cell("uncertainty"):
            text = row.cell("uncertainty").removesuffix("%").strip()
            one.uncertainty_pct = _positive("uncertainty", text, signs["uncertainty"], 100.0)
        else:
            one.notes.append("its uncertainty is unknown: an indication only")

    def texts() -> None:
        fits_all(row)
        one.observer = row.cell("observer") or sheet.observer
        one.page = row.cell("page") or sheet.page

    reads: tuple[Callable[[], None], ...] = (when, staff, discharge, uncertainty, texts)
    for read in reads:
        try:
            read()
        except BadInput as error:
            one.faults += error.faults
    return one


def _positive(column: str, text: str, sign: str, most: float) -> float:
    if not text:
        raise BadInput(column, "", "a figure is needed", "Type what the book says.")
    if text.startswith("="):
        raise BadInput(column, text[:40], "is a formula, no figure", "Copy the values instead.")
    found = figures.in_column(text, sign)
    if not found:
        raise BadInput(column, text[:40], "is no figure", "Type digits only.")
    possible = [value for value in found if 0.0 < value <= most]
    if len(possible) > 1:
        raise TwoMeanings(column, text, found)
    if not possible:
        raise BadInput(
            column, text[:40], f"must be more than zero and at most {most:g}", "Check the figure."
        )
    return possible[0]


def look_at_gaugings(
    session: Session,
    structure_id: int,
    sheet: Sheet,
    rows: Sequence[Row],
    person: Person,
    now: datetime,
) -> Look:
    """Return every row with its checks, judged by the rating of its date; nothing is stored."""
    site, structure = place(session, structure_id)
    assert site.id is not None
    known = register(session)
    held = {
        (one.started_at, one.discharge_m3s): one.entry.id
        for one in gauging_results(session, site.id, structure_id=structure_id)
    }
    times = {at for at, _ in held}
    seen, entries = [], []
    for checked in check_gaugings(sheet, rows, now):
        one = Seen(checked=checked, state=REFUSED)
        seen.append(one)
        if checked.faults:
            continue
        if checked.observer and checked.observer not in known:
            checked.notes.append("the gauger is not in the register, kept as written")
        one.entry = content_of(sheet, checked, site.id, structure_id)
        one.entry["by"] = person.id
        one.entry["body"]["source"]["observer_id"] = known.get(checked.observer)
        entries.append((one, as_stored(one.entry, now)))
    links = what_stands(session, site.id)
    results = results_of(session, [entry for _, entry in entries], links)
    for (one, entry), result in zip(entries, results, strict=True):
        one.state = READY
        one.value = value_of(result)
        same = held_as(held, result, entry)
        if same:
            one.state, one.held_id = HELD, same
            one.checked.notes.append("the record holds this gauging")
        elif session.get(Entry, entry.id) is not None:
            one.state, one.held_id = HELD, entry.id
            one.checked.notes.append(
                "taken in with this sheet before, and withdrawn or corrected since: it stays out"
            )
        elif result.started_at in times:
            one.checked.notes.append("the record has another gauging of this time beside it")
    return Look(site=site, structure=structure, sheet=sheet, rows=seen)


def held_as(
    held: dict[tuple[datetime, float | None], str], result: GaugingResult, entry: Entry
) -> str:
    """Return the id of a gauging of the record that says the same, "" where none does."""
    flow = result.discharge_m3s or 0.0
    for (at, discharge), entry_id in held.items():
        near = discharge is not None and abs(discharge - flow) <= SAME_SHARE * flow
        if at == entry.observed_at and near:
            return entry_id
    return ""


def value_of(result: GaugingResult) -> dict[str, Any]:
    """Return what a gauging is worth, as a row of the sheet shows it."""
    rated = result.rating
    reason = f": {result.reason}" if result.uncertainty_pct is not None else ""
    said = f"by the rating {words.discharge(rated.discharge_m3s, rated.uncertainty_pct)}"
    stated = result.gauging.flags if result.gauging else ()
    return {
        "head_m": result.head_mean_m,
        "discharge_m3s": result.discharge_m3s,
        "uncertainty_pct": result.uncertainty_pct,
        "flow_words": f"{result.word}{reason}; {said}",
        "flag_words": [flag for flag in result.flags if flag not in stated],
    }


def content_of(sheet: Sheet, one: Gauged, site_id: int, structure_id: int) -> dict[str, Any]:
    """Return a row as the entry that is sent; `by` and the gauger's row are filled in after."""
    assert one.at is not None
    assert one.discharge is not None
    row, at = one.row, iso(one.at)
    said = (structure_id, at, one.staff_m, one.discharge, one.uncertainty_pct)
    read = {"at": at, "staff_m": one.staff_m, "text": row.cell("staff")}
    pct = one.uncertainty_pct
    return {
        "id": row_id(sheet.batch, one.at, said),
        "kind": "check_gauging",
        "site_id": site_id,
        "structure_id": structure_id,
        "visit_id": None,
        "observed_at": at,
        "utc_offset_min": sheet.utc_offset_min,
        "saved_at": iso(sheet.made_at),
        "corrects": None,
        "reason": None,
        "body": {
            "observed": {
                "method": "stated",
                "discharge": typed.shown(one.discharge),
                "unit": sheet.flow_unit,
                "uncertainty_pct": None if pct is None else typed.shown(pct),
                "described": row.cell("method"),
            },
            "started_at": at,
            "ended_at": at,
            "heads": [] if one.staff_m is None else [read],
            "head_unit": sheet.unit,
            "note": row.cell("remark"),
            "source": {
                "kind": sheet.kind,
                "name": sheet.name,
                "page": one.page,
                "observer": one.observer,
                "batch": sheet.batch,
                "row": row.number,
            },
        },
    }
