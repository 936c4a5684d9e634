"""A rating as a table: head to discharge for a file, and the card that hangs in the gauge house."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

import numpy as np
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.hydraulics.structure.device import Device, Source
from app.language.tables import Column, Table
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.fits.tests import next_from
from app.services.ratings.curve import Curve, curve_at
from app.services.sites.changes import names_of
from app.services.sites.dated import device_of, in_force
from app.services.sites.structures import place
from app.services.sites.views import ratings_of, zeros_of
from app.services.sites.words import drowning, head_limit, lowest_limit

STEPS_MM = (1, 5)
ACROSS = 10  # heads in one row of the card
CARD_ROWS = (38, 52)  # rows that fit the first and the second page of A4
MOST_ROWS = sum(CARD_ROWS)
SHARE_OF_UNCERTAINTY = 0.2
"""A figure on the card ends at the digit that is worth a fifth of its uncertainty."""

COLUMNS = (
    Column("head_m", "Head over the crest, m"),
    Column("discharge_m3s", "Discharge, free flow, m3/s"),
    Column("uncertainty_pct", "Uncertainty, %, k=2"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("rating_id", "Rating"),
    Column("valid_from", "In force from, UTC"),
)


@dataclass(frozen=True)
class Cell:
    """One figure of the card; one that carries flags is shown in brackets."""

    text: str
    flags: tuple[str, ...]

    @property
    def flagged(self) -> bool:
        return bool(self.flags)


NO_CELL = Cell("", ())


@dataclass(frozen=True)
class CardRow:
    """Ten heads of the card, the first of them named, and the widest uncertainty among them."""

    head_mm: int
    cells: list[Cell]
    uncertainty_pct: float | None


@dataclass(frozen=True, kw_only=True)
class Card:
    """All that is printed: figures, and what a reader must know before using them."""

    site: Site
    structure: Structure
    rating: Rating
    device: Device
    until: datetime | None
    zero: GaugeZero | None
    by: str
    step_mm: int
    unit: str
    pages: list[list[CardRow]]
    modular_limit: float | None
    flags: list[str]  # met on the card, each once

    @property
    def sources(self) -> tuple[Source, ...]:
        return self.device.sources

    @property
    def drowning(self) -> str:
        return drowning(self.device)

    @property
    def head_limit(self) -> str:
        return head_limit(self.device)

    @property
    def steps(self) -> list[int]:
        return [k * self.step_mm for k in range(ACROSS)]


def rating_of(
    session: Session, structure_id: int, rating_id: int
) -> tuple[Site, Structure, Rating, list[Rating]]:
    """Return a rating of a structure with all its ratings; raises NotFound."""
    site, structure = place(session, structure_id)
    ratings = ratings_of(session, [structure_id])
    for rating in ratings:
        if rating.id == rating_id:
            return site, structure, rating, ratings
    raise NotFound(f"rating {rating_id}")


def step_of(typed: str) -> int:
    """Return the step of a table in mm; raises BadInput for any but 1 and 5."""
    if typed not in {str(step) for step in STEPS_MM}:
        raise BadInput("step", typed[:20], "a table has steps of 1 mm or 5 mm", "Choose 1 or 5.")
    return int(typed)


def heads_mm(device: Device, step_mm: int) -> range:
    """Return the whole steps above the cease-to-flow head, up to the most the rating covers."""
    first = max(1, math.floor(device.cease_to_flow_m * 1000.0 / step_mm + 1e-9) + 1)
    last = math.floor(device.head_max_m * 1000.0 / step_mm + 1e-9)
    return range(first * step_mm, last * step_mm + 1, step_mm)


def card_heads(device: Device, step_mm: int) -> range:
    """Return the steps of a card: from the row that holds the least head of the range."""
    heads, width = heads_mm(device, step_mm), step_mm * ACROSS
    begin = math.floor(device.head_min_m * 1000.0 / width + 1e-9) * width
    return range(max(heads.start, begin), heads.stop, step_mm)


def rated_at(device: Device, structure: Structure, heads: Sequence[int]) -> Curve:
    return curve_at(device, structure, np.array(heads, dtype=np.float64) / 1000.0)


def rating_table(session: Session, structure_id: int, rating_id: int, step: str) -> Table:
    """Return a rating as a list, one row a step of head.

    Raises
    ------
    NotFound, BadInput
        For a rating of another structure; for a step other than 1 or 5.
    """
    site, structure, rating, _ = rating_of(session, structure_id, rating_id)
    device, step_mm = device_of(rating), step_of(step)
    heads = heads_mm(device, step_mm)
    rated = rated_at(device, structure, heads)
    flows, spread = rated.discharge_m3s.tolist(), rated.uncertainty_pct.tolist()
    rows = [
        {
            "head_m": head / 1000.0,
            "discharge_m3s": flow if math.isfinite(flow) else None,
            "uncertainty_pct": pct if math.isfinite(pct) else None,
            "flow": word,
            "flags": flags,
            "rating_id": rating.id,
            "valid_from": rating.valid_from,
        }
        for head, flow, pct, word, flags in zip(
            heads, flows, spread, rated.flow, rated.flags, strict=True
        )
    ]
    return Table(f"rating-{rating.id}-{site.code}-{step_mm}mm", COLUMNS, rows)


def card(session: Session, structure_id: int, rating_id: int, step: str, now: datetime) -> Card:
    """Return the card of a rating; without a step the finest that fits two pages.

    Raises
    ------
    NotFound, BadInput
        For a rating of another structure; for a step that does not fit two pages.
    """
    site, structure, rating, ratings = rating_of(session, structure_id, rating_id)
    device = device_of(rating)
    step_mm = step_of(step) if step else finest(device)
    rows_needed = rows_of(device, step_mm)
    if rows_needed > MOST_ROWS:
        raise BadInput(
            "step",
            f"{step_mm} mm",
            f"the card would have {rows_needed} rows and two pages hold {MOST_ROWS}",
            "Take 5 mm, or the CSV, which has no such limit."
            if step_mm < STEPS_MM[-1]
            else "Take the CSV, which has no such limit.",
        )
    unit, rows = figure_rows(device, structure, step_mm)
    zeros = zeros_of(session, [structure_id])
    return Card(
        site=site,
        structure=structure,
        rating=rating,
        device=device,
        until=next_from(ratings, rating),
        zero=in_force(zeros, now),
        by=names_of(session).get(rating.by_id or 0, "the server"),
        step_mm=step_mm,
        unit=unit,
        pages=[part for part in (rows[: CARD_ROWS[0]], rows[CARD_ROWS[0] :]) if part],
        modular_limit=lowest_limit(device),
        flags=list(
            dict.fromkeys(flag for row in rows for cell in row.cells for flag in cell.flags)
        ),
    )


def rows_of(device: Device, step_mm: int) -> int:
    heads, width = card_heads(device, step_mm), step_mm * ACROSS
    return (heads[-1] // width - heads[0] // width + 1) if heads else 0


def finest(device: Device) -> int:
    fitting = (step for step in STEPS_MM if rows_of(device, step) <= MOST_ROWS)
    return next(fitting, STEPS_MM[-1])


def figure_rows(device: Device, structure: Structure, step_mm: int) -> tuple[str, list[CardRow]]:
    """Return the unit of the card and its rows, figures rounded to their uncertainty."""
    heads = card_heads(device, step_mm)
    if not heads:
        return "L/s", []
    width = step_mm * ACROSS
    rated = rated_at(device, structure, heads)
    unit, scale = ("m³/s", 1.0) if np.nanmax(rated.discharge_m3s) >= 10.0 else ("L/s", 1000.0)
    q, pct = rated.discharge_m3s * scale, rated.uncertainty_pct
    held = {
        head: (float(q[k]), float(pct[k]), tuple(rated.flags[k])) for k, head in enumerate(heads)
    }
    rows = []
    for begin in range(heads[0] // width * width, heads[-1] + 1, width):
        here = [held.get(head) for head in range(begin, begin + width, step_mm)]
        known = [one for one in here if one is not None and all(map(math.isfinite, one[:2]))]
        decimals = decimals_of([one[0] for one in known], [one[1] for one in known])
        rows.append(
            CardRow(
                begin,
                [
                    Cell(f"{one[0]:.{decimals}f}", one[2]) if one in known and one else NO_CELL
                    for one in here
                ],
                max((one[1] for one in known), default=None),
            )
        )
    return unit, rows


def decimals_of(flows: Sequence[float], spreads_pct: Sequence[float]) -> int:
    """Return the decimals of a row: what its uncertainty bears, and neighbours told apart."""
    worth = [
        SHARE_OF_UNCERTAINTY * q * pct / 100.0 for q, pct in zip(flows, spreads_pct, strict=True)
    ]
    steps = [later - sooner for sooner, later in pairwise(flows)]
    least = min((each for each in (*worth[:1], *steps) if each > 0.0), default=1.0)
    return min(4, max(0, math.ceil(-math.log10(least))))
