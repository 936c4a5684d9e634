"""Head readings as they stand, each with its present value."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col

from app.hydraulics.structure.device import Flow, flag_words
from app.language import forms
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.services.entries.links import LINK_COLUMN, standing_only, what_stands
from app.services.entries.standing import Standing


@dataclass(frozen=True)
class Span:
    """A range of site days, both ends included; None is open."""

    first: date | None
    last: date | None
    since: datetime | None
    until: datetime | None  # the instant after the last day

    @property
    def query(self) -> str:
        """Return the range as the query of an address."""
        parts = [("from", self.first), ("to", self.last)]
        return "&".join(f"{name}={day}" for name, day in parts if day is not None)


def span_of(first: str, last: str, utc_offset_min: int) -> Span:
    """Return a range from two days of the site as typed.

    Raises
    ------
    BadInput
        When one is no day, or they are the wrong way round.
    """
    begin, end = forms.site_days(first, last)
    return Span(
        begin,
        end,
        None if begin is None else forms.day_begins(begin, utc_offset_min),
        None if end is None else forms.day_begins(end + timedelta(days=1), utc_offset_min),
    )


ENTRY_COLUMNS: list[Any] = [
    col(Entry.id),
    col(Entry.structure_id),
    col(Entry.visit_id),
    col(Entry.observed_at),
    col(Entry.by_id),
    col(Entry.saved_at),
    col(Entry.received_at),
    col(Entry.phone),
    LINK_COLUMN,
    col(Entry.reason).label("correction_reason"),
    col(Entry.body),
]
VALUE_COLUMNS: list[Any] = [
    col(FlowValue.id).label("flow_value_id"),
    col(FlowValue.head_m),
    col(FlowValue.head_uncertainty_m),
    col(FlowValue.tailwater_m),
    col(FlowValue.submergence_ratio),
    col(FlowValue.discharge_m3s),
    col(FlowValue.uncertainty_pct),
    col(FlowValue.flow).label("flow_code"),
    col(FlowValue.flags).label("flag_bits"),
    col(FlowValue.steadiness),
    col(FlowValue.reason).label("not_rated_reason"),
    col(FlowValue.rating_id),
    col(FlowValue.gauge_zero_id),
    col(FlowValue.engine),
    col(FlowValue.rated_at),
]


def standing(
    session: Session,
    site_id: int,
    span: Span,
    structure_id: int | None = None,
    *,
    with_corrected: bool = False,
) -> Iterator[dict[str, Any]]:
    """Yield the readings of a site in the order of their times, each with its present value.

    Parameters
    ----------
    with_corrected : bool
        Also yield readings that do not stand; `corrected_by` names the correction that counts.
    """
    links = what_stands(session, site_id)
    statement = _with_values().where(col(Entry.site_id) == site_id)
    if structure_id is not None:
        statement = statement.where(col(Entry.structure_id) == structure_id)
    if span.since is not None:
        statement = statement.where(col(Entry.observed_at) >= span.since)
    if span.until is not None:
        statement = statement.where(col(Entry.observed_at) < span.until)
    if not with_corrected:
        statement = statement.where(standing_only(session, Entry.id, links))
    with session.execute(statement) as rows:  # who takes the first few leaves no cursor open
        for found in rows.mappings():
            yield _said(dict(found), links)


def standing_of(
    session: Session, structures: Mapping[int, int], links: Standing
) -> dict[int, list[dict[str, Any]]]:
    """Return the readings that stand of some structures, by structure, in one statement.

    Parameters
    ----------
    structures : mapping
        The site of each structure: a reading that names another site is not its own.
    """
    rows: dict[int, list[dict[str, Any]]] = {key: [] for key in structures}
    statement = (
        _with_values()
        .add_columns(col(Entry.site_id))
        .where(col(Entry.structure_id).in_(structures), standing_only(session, Entry.id, links))
    )
    for found in session.execute(statement).mappings():
        row = dict(found)
        if row.pop("site_id") == structures[row["structure_id"]]:
            rows[row["structure_id"]].append(_said(row, links))
    return rows


def _with_values() -> sa.Select[Any]:
    """Return the statement of all head readings with their present values, by time."""
    return (
        sa.select(*ENTRY_COLUMNS, *VALUE_COLUMNS)
        .outerjoin(
            FlowValue,
            sa.and_(col(FlowValue.entry_id) == col(Entry.id), col(FlowValue.current)),
        )
        .where(col(Entry.kind) == "head_reading")
        .order_by(col(Entry.observed_at), col(Entry.id))
        .execution_options(yield_per=500)
    )


def _said(row: dict[str, Any], links: Standing) -> dict[str, Any]:
    """Return a row of a reading with its words."""
    if row["flow_code"] is None:  # stored, and a fault kept it from being rated
        row |= {"flow_code": int(Flow.NOT_RATED), "flag_bits": 0}
        row["not_rated_reason"] = "waiting to be rated"
    row["flow"] = Flow(row["flow_code"]).word
    row["flags"] = flag_words(row["flag_bits"])
    row["corrected_by"] = links.replaced_by(row["id"])
    row["rival"] = links.rival(row["id"])
    return row
