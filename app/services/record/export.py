"""The long record as files: daily.csv and series.csv, every figure to its last digit.

Zero flow is 0; a day or reading that is missing is blank, and a word says why. What each figure
rests on (rating, gauge zero, corrections, state) stands beside it.
"""

import json
from bisect import bisect_right
from collections.abc import Iterator
from datetime import date, timedelta, timezone
from typing import Any
from urllib.parse import urlencode

import sqlalchemy as sa
from sqlmodel import Session

from app.hydraulics.series.layers import How
from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.language.columns import list_head
from app.language.tables import PAGE_ROWS, Column, Table, csv_lines, json_value
from app.records.database import reading_session
from app.records.sensors import SERIES
from app.records.sites import Site
from app.services.days.daily import shown
from app.services.days.staleness import months_why
from app.services.days.state import DRAFT, states
from app.services.days.tables import DAILY_COLUMNS
from app.services.readings.list import span_of
from app.services.record.reading import file_name
from app.services.record.table import view
from app.services.series import read as series_read
from app.services.series.months import instant
from app.services.series.raw import FAR_S
from app.services.sites.structures import place

DAILY_FILE_COLUMNS = (
    Column("site_code", "Site code"),
    Column("structure_id", "Structure id"),
    *DAILY_COLUMNS,
)
SERIES_COLUMNS = (
    Column("time_utc", "Time, UTC"),
    Column("site_time", "Site time"),
    Column("head_m_raw", "Head as logged, m"),
    Column("head_m", "Head over crest, corrected, m"),
    Column("tailwater_m", "Tailwater over crest, corrected, m"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty of discharge, %, k=2"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("how", "How the value came about"),
    Column("quality_word", "Quality"),
    Column("state", "State"),
    Column("rating_id", "Rating"),
    Column("gauge_zero_id", "Gauge zero"),
    Column("layer_ids", "Layers"),
    Column("engine", "Computed by"),
    Column("stale", "Its month is out of date, because"),
)
MARK_COLUMNS = (
    Column("kind", "Kind"),
    Column("from_utc", "From, UTC"),
    Column("to_utc", "To, UTC"),
    Column("words", "What it says"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty of discharge, %, k=2"),
    Column("head_m", "Head over crest, m"),
    Column("tailwater_m", "Tailwater over crest, m"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("by", "By"),
    Column("page", "Page"),
)
MOST_PAGE_ROWS = 20_000
NAMES = (
    "raw_m",
    "head_m",
    "tailwater_m",
    "discharge_m3s",
    "uncertainty_pct",
    "flow",
    "flags",
    "how",
)


def daily_rows(
    session: Session, structure_id: int, first: date | None = None, last: date | None = None
) -> Iterator[dict[str, Any]]:
    """Yield one row a day, days without record too."""
    site, structure = place(session, structure_id)
    for row in shown(session, structure_id, first, last):
        yield {"site_code": site.code, "structure_id": structure.id, **row, "day": str(row["day"])}


def daily_table(
    session: Session, structure_id: int, first: date | None = None, last: date | None = None
) -> Table:
    """Return the days of the long record as a table: daily.csv and daily.json."""
    name = file_name(*place(session, structure_id), "daily")
    rows = daily_rows(session, structure_id, first, last)
    return Table(name, DAILY_FILE_COLUMNS, list(rows))


def marks_table(
    session: Session, structure_id: int, from_s: int | None = None, to_s: int | None = None
) -> Table:
    """Return the marks of a view of the flow history, newest first: marks.csv and marks.json."""
    name = file_name(*place(session, structure_id), "marks")
    rows = [
        {
            **vars(one),
            "from_utc": one.begins_at,
            "to_utc": one.ends_at,
            "page": one.href,
        }
        for one in view(session, structure_id, from_s, to_s).marks
    ]
    return Table(name, MARK_COLUMNS, rows)


def daily_csv(
    session: Session, structure_id: int, first: date | None = None, last: date | None = None
) -> Iterator[str]:
    """Yield daily.csv (RFC 4180, one header row)."""
    yield from csv_lines(DAILY_FILE_COLUMNS, daily_rows(session, structure_id, first, last))


def quality_word(how: int, flow: int, state: str, corrected: bool) -> str:
    """Return how good a value is, in a word (practice: open words, no number scheme)."""
    if how in (How.MISSING, How.SPIKE, How.NO_RECORD) or flow == Flow.NOT_RATED:
        return "missing"
    if flow == Flow.SUBMERGED_UNDETERMINED:
        return "not determined"
    if how == How.ESTIMATED:
        return "estimated"
    if state == DRAFT:
        return "unchecked"
    return "fair" if corrected or flow == Flow.SUBMERGED_CORRECTED else "good"


def series_rows(
    session: Session, structure_id: int, from_s: int | None = None, to_s: int | None = None
) -> Iterator[dict[str, Any]]:
    """Yield the derived series, month by month, so that memory stays bounded."""
    site, _ = place(session, structure_id)
    from_s = -FAR_S if from_s is None else from_s
    to_s = FAR_S if to_s is None else to_s
    zone = timezone(timedelta(minutes=site.utc_offset_min))
    known = states(session, structure_id)
    stale = months_why(session, structure_id)
    months = (
        session.connection()
        .execute(
            sa.select(
                SERIES.c.month, SERIES.c.from_s, SERIES.c.to_s, SERIES.c.versions, SERIES.c.engine
            )
            .where(
                SERIES.c.structure_id == structure_id,
                SERIES.c.to_s >= from_s,
                SERIES.c.from_s <= to_s,
            )
            .order_by(SERIES.c.from_s)
        )
        .all()
    )
    for month, first_s, last_s, made, engine in months:
        a, b = max(from_s, first_s), min(to_s, last_s)
        found = series_read.load(session, structure_id, a, b, NAMES)
        state = known[month].state if month in known else DRAFT
        parts = made["stretches"]
        starts = [part[0] for part in parts]
        columns = [found[name].tolist() for name in ("t_s", *NAMES)]
        for t, raw, head, tail, flow_m3s, pct, flow, flags, how in zip(*columns, strict=True):
            part = parts[max(bisect_right(starts, t) - 1, 0)]
            layers = [key for key, begin, end in made["layers"] if begin <= t <= end]
            at = instant(t)
            yield {
                "time_utc": at,
                "site_time": at.astimezone(zone).isoformat(),
                "head_m_raw": raw,
                "head_m": head,
                "tailwater_m": tail,
                "discharge_m3s": flow_m3s,
                "uncertainty_pct": pct,
                "flow": Flow(flow).word,
                "flags": flag_words(Flag(flags)) if flags else [],
                "how": How(how).word,
                "quality_word": quality_word(how, flow, state, bool(layers)),
                "state": state,
                "rating_id": part[2],
                "gauge_zero_id": part[3],
                "layer_ids": layers,
                "engine": engine,
                "stale": stale.get(month, ""),
            }


def series_csv(
    engine: sa.Engine, structure_id: int, from_s: int | None = None, to_s: int | None = None
) -> Iterator[str]:
    """Yield series.csv; opens a session of its own, because it is made while it is sent."""
    with reading_session(engine) as session:
        yield from csv_lines(SERIES_COLUMNS, series_rows(session, structure_id, from_s, to_s))


def series_of_days(
    session: Session, structure_id: int, site: Site, first: str, last: str
) -> Iterator[str]:
    """Yield series.csv of a range of site days as typed; raises BadInput."""
    span = span_of(first, last, site.utc_offset_min)
    begin = None if span.since is None else int(span.since.timestamp())
    end = None if span.until is None else int(span.until.timestamp()) - 1
    yield from csv_lines(SERIES_COLUMNS, series_rows(session, structure_id, begin, end))


def series_json(
    engine: sa.Engine,
    structure_id: int,
    from_s: int | None = None,
    to_s: int | None = None,
    *,
    limit: int = PAGE_ROWS,
) -> Iterator[str]:
    """Yield the same rows as JSON, a page at a time.

    "next" is the address of the rows after them, null on the last page: following it until then
    gives every row of the range once.
    """
    with reading_session(engine) as session:
        head = list_head(file_name(*place(session, structure_id), "series"), SERIES_COLUMNS)
        yield json.dumps({**head, "limit": limit})[:-1] + ', "rows": ['
        block: list[str] = []  # rows go out by the hundred: each piece costs a change of thread
        after = None
        for count, row in enumerate(series_rows(session, structure_id, from_s, to_s)):
            if count == limit:
                asked = {"from_s": int(row["time_utc"].timestamp()), "to_s": to_s, "limit": limit}
                given = urlencode({k: v for k, v in asked.items() if v is not None})
                after = f"/structures/{structure_id}/series.json?{given}"
                break
            cells = {c.key: json_value(row.get(c.key)) for c in SERIES_COLUMNS}
            block.append(("," if count else "") + "\n" + json.dumps(cells, ensure_ascii=False))
            if len(block) == 500:
                yield "".join(block)
                block = []
        yield "".join(block)
        yield f'\n], "next": {json.dumps(after)}}}\n'
