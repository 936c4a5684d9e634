"""Which derived rows no longer follow what is in force: one rule, asked by all who show or mend.

A row cites what it was made from (`cited`); it is stale when what is in force now differs. Pages
show it so with the act that mends it (`rerate`), the review queue lists it, the command line too.
An approved month is left as it is and listed: only a person opens it again.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col

from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sensors import SERIES
from app.records.sites import GaugeZero, Rating, Structure
from app.services.days import cited
from app.services.days.stale import SiteStale, StaleMonth, StaleReadings
from app.services.days.state import APPROVED, DRAFT, states_of
from app.services.series import raw as raw_series
from app.services.series.flow import QUANTITIES, Inputs, inputs_of, inputs_of_many
from app.services.series.months import month_begins_s, month_of_day
from app.services.series.rows import token_of
from app.services.settings.in_force import judging
from app.services.sites.dated import histories, in_force
from app.services.sites.register import get_site, structures_of
from app.services.sites.structures import place


def stale_months(session: Session, structure_id: int) -> list[StaleMonth]:
    """Return the months of a structure's record that are stale, oldest first."""
    inputs = inputs_of(session, structure_id)
    return stale_months_of(session, {structure_id: inputs})[structure_id]


def stale_months_of(session: Session, many: Mapping[int, Inputs]) -> dict[int, list[StaleMonth]]:
    """Return the stale months of some structures, by structure, oldest first."""
    found: dict[int, list[StaleMonth]] = {key: [] for key in many}
    rows = session.execute(
        sa.select(SERIES.c.structure_id, SERIES.c.month, SERIES.c.versions, SERIES.c.engine)
        .where(SERIES.c.structure_id.in_(many))
        .order_by(SERIES.c.structure_id, SERIES.c.month)
    ).all()
    if not rows:
        return found
    known = states_of(session, many)
    spans, logger_of = raw_series.import_spans_of(session, many)
    for key, month, made, engine in rows:
        now = _now(session, many[key], month, made, spans.get(key, []), logger_of)
        said = cited.differences(made, engine, now)
        step = known.get(key, {}).get(month)
        state = step.state if step else DRAFT
        if state == APPROVED:
            said = {k: words for k, words in said.items() if k not in cited.FINDINGS_ONLY}
        if said:
            words = tuple(said.values())
            found[key].append(StaleMonth(key, month, state, words, token_of(now)))
    return found


def _now(
    session: Session,
    inputs: Inputs,
    month: int,
    made: cited.Cited,
    spans: Sequence[tuple[int, int, int]],
    logger_of: dict[int, int],
) -> dict[str, Any]:
    """Return what a month would be made from now."""
    reach = int(made.get("reach_s", 0))
    a = month_begins_s(month, inputs.offset_min)
    b = month_begins_s(month + 1, inputs.offset_min)
    begin, end = a - reach, b + reach
    imports = sorted({key for key, first, last in spans if last >= begin and first < end})
    if imports != made.get("imports"):  # a file lies here: look which of its readings count
        raws = [
            raw_series.raw_series(session, inputs.structure.id or 0, quantity, begin, end)
            for quantity in QUANTITIES
        ]
        imports = cited.counting(raws, begin, end)
    return cited.of_month(inputs, a, b, reach, imports, logger_of)


def stale_readings(
    session: Session, site_id: int, structure_id: int | None = None
) -> list[StaleReadings]:
    """Return the stale readings of a site by structure; those never rated are among them."""
    structures = {
        x.id: x
        for x in structures_of(session, site_id)
        if x.id is not None and structure_id in (None, x.id)
    }
    return stale_readings_of(session, structures)


def stale_readings_of(session: Session, structures: Mapping[int, Structure]) -> list[StaleReadings]:
    """Return the stale readings of some structures, in four statements."""
    limits = judging(session).cited
    ratings = histories(session, Rating, structures)
    zeros = histories(session, GaugeZero, structures)
    entry: tuple[Any, ...] = (
        col(Entry.id).label("entry_id"),
        col(Entry.structure_id),
        col(Entry.site_id),
        col(Entry.observed_at),
    )
    held: tuple[Any, ...] = (
        col(FlowValue.id).label("value_id"),
        col(FlowValue.engine),
        col(FlowValue.rating_id),
        col(FlowValue.gauge_zero_id),
        col(FlowValue.structure_head_uncertainty_m),
        col(FlowValue.structure_pond_area_m2),
        col(FlowValue.limits),
    )
    rows = session.execute(
        sa.select(*entry, *held)
        .join_from(
            Entry,
            FlowValue,
            sa.and_(col(FlowValue.entry_id) == col(Entry.id), col(FlowValue.current)),
            isouter=True,
        )
        .where(
            col(Entry.kind) == "head_reading",
            col(Entry.structure_id).in_(structures),
        )
        .order_by(col(Entry.observed_at))
    )
    found: dict[int, tuple[dict[str, datetime], dict[str, str]]] = {}
    for row in rows:
        if row.site_id != structures[row.structure_id].site_id:
            continue
        now = cited.of_reading(
            structures[row.structure_id],
            in_force(ratings[row.structure_id], row.observed_at),
            in_force(zeros[row.structure_id], row.observed_at),
            limits,
        )
        said = {"unrated": "not rated yet"}
        if row.value_id is not None:
            said = cited.differences(cited.of_value(row), row.engine, now)
        if said:
            entries, why = found.setdefault(row.structure_id, ({}, {}))
            entries[row.entry_id] = row.observed_at
            why |= said
    return [
        StaleReadings(
            key,
            frozenset(entries),
            min(entries.values()),
            max(entries.values()),
            tuple(why.values()),
        )
        for key, (entries, why) in sorted(found.items())
    ]


def of_site(session: Session, site_id: int) -> SiteStale:
    """Return what of a site is stale; raises NotFound."""
    site = get_site(session, site_id)
    structures = {x.id: x.name for x in structures_of(session, site_id) if x.id is not None}
    months = tuple(x for key in structures for x in stale_months(session, key))
    return SiteStale(site, structures, months, tuple(stale_readings(session, site_id)))


def of_structure(session: Session, structure_id: int) -> SiteStale:
    """Return what of one structure is stale; raises NotFound."""
    site, structure = place(session, structure_id)
    return SiteStale(
        site,
        {structure_id: structure.name},
        tuple(stale_months(session, structure_id)),
        tuple(stale_readings(session, site.id or 0, structure_id)),
    )


def months_why(session: Session, structure_id: int) -> dict[int, str]:
    """Return the stale months of a structure by number, with the reasons, to mark rows by."""
    return {x.number: x.words for x in stale_months(session, structure_id)}


def why_between(months: Mapping[int, str], first: date, last: date) -> str:
    """Return why figures of a range of days are out of date; empty when none of them is."""
    begin, end = month_of_day(first), month_of_day(last)
    return "; ".join(dict.fromkeys(why for month, why in months.items() if begin <= month <= end))


def of_structures(session: Session, structure_ids: Iterable[int]) -> dict[int, SiteStale]:
    """Return what is stale of some structures, those with nothing left out."""
    ids = sorted(set(structure_ids))
    many = inputs_of_many(session, ids)
    months = stale_months_of(session, many)
    readings: dict[int, list[StaleReadings]] = {}
    for stale in stale_readings_of(session, {key: x.structure for key, x in many.items()}):
        readings.setdefault(stale.structure_id, []).append(stale)
    found = {
        key: SiteStale(
            x.site, {key: x.structure.name}, tuple(months[key]), tuple(readings.get(key, ()))
        )
        for key, x in many.items()
    }
    return {key: found[key] for key in ids if found.get(key)}


def reading_why(session: Session, entry: Entry) -> str:
    """Return why the discharge of a reading is out of date; empty when it is not."""
    found = stale_readings(session, entry.site_id, entry.structure_id)
    return next((x.words for x in found if entry.id in x.entry_ids), "")
