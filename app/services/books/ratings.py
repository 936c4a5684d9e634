"""A past rating as a book tables it: heads and discharges, from a date, with its source."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.base import figures
from app.hydraulics.base.units import DISCHARGE_M3S, LENGTH_M
from app.hydraulics.families import user_table
from app.language import forms, typed
from app.language.forms import Form
from app.language.words import counted
from app.records.sites import Rating
from app.services.books.files import cells_of
from app.services.books.sheet import FLOW_UNITS
from app.services.ratings.curve import Curve, curve_at, device_or_none
from app.services.sites.dated import histories, in_force
from app.services.sites.families import DIM, device_from
from app.services.sites.register import HEAD_UNITS
from app.services.sites.structures import add_rating, place

LONGEST_TABLE = 200
HIGHEST_HEAD_M = 20.0
LARGEST_FLOW_M3S = 1000.0
UNKNOWN = "the book states no uncertainty, the usual one of a table of unknown origin is taken"


@dataclass(frozen=True, kw_only=True)
class RatingLook:
    """A rating as it would hold, at its own heads, beside the one of that date."""

    form: dict[str, str]
    rows: list[tuple[float, float]]
    own: Curve
    present: Curve | None

    @property
    def differs_pct(self) -> list[float | None]:
        """Return how far the table lies from the rating of its date, %, at each head."""
        if self.present is None:
            return [None] * len(self.rows)
        pairs = zip(self.rows, self.present.discharge_m3s.tolist(), strict=True)
        return [100.0 * (flow / other - 1.0) if other > 0 else None for (_, flow), other in pairs]


def table_rows(text: str, head_unit: str, flow_unit: str) -> list[tuple[float, float]]:
    """Return the rows of a table as head in m over the crest and discharge in m3/s.

    Raises
    ------
    BadInput
        Naming row and column, both counted from 1.
    """
    lines = [(number, cells) for number, cells in cells_of(text) if any(map(str.strip, cells))]
    if lines and not any(sign.isdigit() for sign in "".join(lines[0][1])):
        lines = lines[1:]  # titles
    if len(lines) > LONGEST_TABLE:
        raise BadInput(
            "table", counted(len(lines), "row"), f"at most {LONGEST_TABLE}", "Thin it out."
        )
    limits = (HIGHEST_HEAD_M / LENGTH_M[head_unit], LARGEST_FLOW_M3S / DISCHARGE_M3S[flow_unit])
    split = [(number, _pair(cells, number)) for number, cells in lines]
    signs = [figures.decimal_sign([pair[place] for _, pair in split]) for place in (0, 1)]
    found = []
    for number, pair in split:
        head, flow = (_figure(pair[k], number, k + 1, signs[k], limits[k]) for k in (0, 1))
        found.append((round(head * LENGTH_M[head_unit], 9), flow * DISCHARGE_M3S[flow_unit]))
    return found


def _pair(cells: Sequence[str], number: int) -> list[str]:
    filled = [cell.strip() for cell in cells if cell.strip()]
    if len(filled) == 1:  # a blank between them, as in a text
        filled = filled[0].split()
    if len(filled) != 2:
        raise BadInput(
            "table", " ".join(filled)[:60], f"row {number}: a head and a discharge are needed",
            "Give two figures a row, parted by a tab, a semicolon or a blank.",
        )  # fmt: skip
    return filled


def _figure(text: str, row: int, column: int, sign: str, most: float) -> float:
    found = [value for value in figures.in_column(text, sign) if 0.0 <= value <= most]
    if len(found) != 1:
        rule = "can be two figures" if found else f"is no figure from 0 to {most:g}"
        remedy = f"Write {' or '.join(map(figures.spelled, found)) or 'digits only'}."
        raise BadInput("table", text[:40], f"row {row}, column {column}: {rule}", remedy)
    return found[0]


def rating_form(form: Form) -> tuple[dict[str, str], list[tuple[float, float]]]:
    """Return what was typed as the form of a dated rating, and its rows.

    Raises
    ------
    BadInput
        With every fault.
    """
    found = forms.together(
        name=lambda: forms.text(form, "name", most=200, required=True),
        page=lambda: forms.text(form, "page", most=200),
        unit=lambda: _unit(form, "unit", HEAD_UNITS),
        flow_unit=lambda: _unit(form, "flow_unit", FLOW_UNITS),
        rating_pct=lambda: forms.number(form, "rating_pct", low=0.1, high=50, unit="%"),
        modular_limit=lambda: forms.number(form, "modular_limit", low=0.0, high=0.99),
    )
    rows = table_rows(form.get("table", ""), found["unit"], found["flow_unit"])
    pct, limit = found["rating_pct"], found["modular_limit"]
    page = f", page {found['page']}" if found["page"] else ""
    doubt = f"; {UNKNOWN}" if pct is None else ""
    filled = {
        "family": user_table.FAMILY.key,
        "valid_from": form.get("valid_from", ""),
        "reason": f"From the book {found['name']}{page}{doubt}",
        DIM + "table": ", ".join(f"{typed.shown(h)}:{typed.shown(q)}" for h, q in rows),
        DIM + "rating_pct": typed.shown(pct),
        DIM + "modular_limit": typed.shown(limit),
    }
    return filled, rows


def _unit(form: Form, field: str, known: Collection[str]) -> str:
    unit = form.get(field, "")
    if unit not in known:
        raise BadInput(field, unit[:20], "is no unit of the list", "Choose one of the list.")
    return unit


def look_at_rating(session: Session, structure_id: int, form: Form) -> RatingLook:
    """Return a rating as it would hold; nothing is stored. Raises BadInput with every fault."""
    site, structure = place(session, structure_id)
    filled, rows = rating_form(form)
    found = forms.together(
        at=lambda: forms.site_moment(form, "valid_from", site.utc_offset_min),
        device=lambda: device_from(filled),
    )
    heads = [head for head, _ in rows]
    history = histories(session, Rating, [structure_id])[structure_id]
    before = device_or_none(in_force(history, found["at"]))
    return RatingLook(
        form=filled,
        rows=rows,
        own=curve_at(found["device"], structure, heads),
        present=None if before is None else curve_at(before, structure, heads),
    )


def take_rating_in(session: Session, structure_id: int, form: Form, by_id: int | None) -> Rating:
    """Add the rating to the dated ones; sent twice it is there once. Raises BadInput."""
    return add_rating(session, structure_id, rating_form(form)[0], by_id)
