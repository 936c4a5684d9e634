"""Head readings as they stand: a corrected one is replaced by its correction, rivals both stand."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col

from app.errors import BadInput
from app.hydraulics.devices.device import Flow, flag_words
from app.records.entries import Entry
from app.records.flows import FlowValue
from app.services import forms

WITHDRAWAL = "withdrawal"
OCCASIONS = {"as_found": "as found", "as_left": "as left", "during": "during"}


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
    begin, end = forms.site_day(first, "from"), forms.site_day(last, "to")
    if begin is not None and end is not None and end < begin:
        raise BadInput("to", last, f"the last day lies before the first, {begin}", "Swap the two.")
    return Span(
        begin,
        end,
        None if begin is None else forms.day_begins(begin, utc_offset_min),
        None if end is None else forms.day_begins(end + timedelta(days=1), utc_offset_min),
    )


@dataclass(frozen=True)
class Corrections:
    """Who corrects whom: `of` maps a correction to its original, `by` the other way.

    A withdrawn entry counts for nothing from then on; what it corrected stands again unless
    another correction does.
    """

    of: dict[str, str]
    by: dict[str, list[str]]
    withdrawn: frozenset[str] = frozenset()

    def line(self, entry_id: str) -> list[str]:
        """Return an entry and what it corrects, back to the first; a ring is walked once."""
        found = [entry_id]
        while (earlier := self.of.get(found[-1])) is not None and earlier not in found:
            found.append(earlier)
        return found

    def in_ring(self, entry_id: str) -> bool:
        return self.of.get(self.line(entry_id)[-1]) == entry_id

    def stands(self, entry_id: str) -> bool:
        """Tell whether nothing corrects an entry; of a ring of corrections all stand."""
        if entry_id in self.withdrawn:
            return False
        return self.in_ring(entry_id) or not self.alive(entry_id)

    def alive(self, entry_id: str) -> list[str]:
        """Return the corrections of an entry that count: themselves, or by one of their own."""
        return [one for one in self.by.get(entry_id, ()) if self._counts(one)]

    def _counts(self, entry_id: str) -> bool:
        todo, seen = [entry_id], set()
        while todo:
            one = todo.pop()
            if one not in self.withdrawn:
                return True
            if one not in seen:
                seen.add(one)
                todo += self.by.get(one, ())
        return False

    def rivals(self, entry_id: str) -> bool:
        """Tell whether another correction of the same reading stands beside this one."""
        ring = self.in_ring(entry_id)
        return ring or any(len(self.alive(e)) > 1 for e in self.line(entry_id)[1:])


def corrections(session: Session, site_id: int | None = None) -> Corrections:
    """Return all corrections of readings that touch a site, or all there are."""
    statement = sa.select(col(Entry.id), col(Entry.corrects_id), col(Entry.kind)).where(
        col(Entry.corrects_id).is_not(None), col(Entry.kind).in_(("head_reading", WITHDRAWAL))
    )
    if site_id is not None:
        # A reading taken under the wrong site is corrected by one of another site.
        here = sa.select(col(Entry.id)).where(
            col(Entry.site_id) == site_id, col(Entry.kind) == "head_reading"
        )
        statement = statement.where(
            sa.or_(col(Entry.site_id) == site_id, col(Entry.corrects_id).in_(here))
        )
    of: dict[str, str] = {}
    by: dict[str, list[str]] = defaultdict(list)
    withdrawn: set[str] = set()
    for entry_id, corrects_id, kind in session.execute(statement.order_by(col(Entry.id))):
        if kind == WITHDRAWAL:
            withdrawn.add(corrects_id)
            continue
        of[entry_id] = corrects_id
        by[corrects_id].append(entry_id)
    return Corrections(of, dict(by), frozenset(withdrawn))


ENTRY_COLUMNS: list[Any] = [
    col(Entry.id),
    col(Entry.structure_id),
    col(Entry.visit_id),
    col(Entry.observed_at),
    col(Entry.by_id),
    col(Entry.saved_at),
    col(Entry.received_at),
    col(Entry.phone),
    col(Entry.corrects_id),
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
        Also yield readings that a correction has replaced; `corrected_by` names it.
    """
    links = corrections(session, site_id)
    statement = (
        sa.select(*ENTRY_COLUMNS, *VALUE_COLUMNS)
        .outerjoin(
            FlowValue,
            sa.and_(col(FlowValue.entry_id) == col(Entry.id), col(FlowValue.current)),
        )
        .where(col(Entry.site_id) == site_id, col(Entry.kind) == "head_reading")
        .order_by(col(Entry.observed_at), col(Entry.id))
        .execution_options(yield_per=500)
    )
    if structure_id is not None:
        statement = statement.where(col(Entry.structure_id) == structure_id)
    if span.since is not None:
        statement = statement.where(col(Entry.observed_at) >= span.since)
    if span.until is not None:
        statement = statement.where(col(Entry.observed_at) < span.until)
    for found in session.execute(statement).mappings():
        row = dict(found)
        if not with_corrected and not links.stands(row["id"]):
            continue
        if row["flow_code"] is None:  # stored, and a fault kept it from being rated
            row |= {"flow_code": int(Flow.NOT_RATED), "flag_bits": 0}
            row["not_rated_reason"] = "waiting to be rated"
        row["flow"] = Flow(row["flow_code"]).word
        row["flags"] = flag_words(row["flag_bits"])
        row["corrected_by"] = links.by.get(row["id"], [])
        row["rival"] = links.rivals(row["id"])
        yield row
