"""The long record as files: daily.csv and series.csv, every figure to its last digit.

Zero flow is 0; a day or reading that is missing is blank, and a word says why. What each figure
rests on (rating, gauge zero, corrections, state) stands beside it.
"""

import json
from collections.abc import Iterator
from datetime import date, timedelta, timezone
from typing import Any
from urllib.parse import urlencode

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session

from app.hydraulics.base.arrays import figure_texts
from app.language.columns import list_head
from app.language.tables import PAGE_ROWS, Column, Table, csv_lines, json_value
from app.records.database import reading_session
from app.records.sites import Site
from app.services.days.daily import shown
from app.services.days.tables import DAILY_COLUMNS
from app.services.readings.list import span_of
from app.services.record.blocks import SERIES_FIGURES, blocks
from app.services.record.reading import file_name
from app.services.record.table import view
from app.services.series.months import instant
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
FIGURE_KEYS = ("head_m_raw", *SERIES_FIGURES[1:])


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


def series_rows(
    session: Session, structure_id: int, from_s: int | None = None, to_s: int | None = None
) -> Iterator[dict[str, Any]]:
    """Yield the derived series, month by month, so that memory stays bounded."""
    site, _ = place(session, structure_id)
    zone = timezone(timedelta(minutes=site.utc_offset_min))
    for block in blocks(session, structure_id, from_s, to_s):
        columns = [block.t_s, *(block.figures[name] for name in SERIES_FIGURES), block.which]
        for t, *figures, which in zip(*(column.tolist() for column in columns), strict=True):
            at = instant(t)
            yield {
                "time_utc": at,
                "site_time": at.astimezone(zone).isoformat(),
                **dict(zip(FIGURE_KEYS, figures, strict=True)),
                **block.said[which],
            }


def series_lines(
    session: Session, structure_id: int, from_s: int | None = None, to_s: int | None = None
) -> Iterator[str]:
    """Yield series.csv a month at a time, with the bytes that `csv_lines` makes of the rows.

    What rows have in common is written once; figures and times are written as whole columns.
    """
    site, _ = place(session, structure_id)
    zone = timezone(timedelta(minutes=site.utc_offset_min))
    offset = instant(0).astimezone(zone).isoformat()[len("1970-01-01T00:00:00") :]
    yield from csv_lines(SERIES_COLUMNS, [])
    shared = SERIES_COLUMNS[2 + len(SERIES_FIGURES) :]
    for block in blocks(session, structure_id, from_s, to_s):
        stamps = block.t_s.astype("M8[s]")
        site_stamps = (block.t_s + site.utc_offset_min * 60).astype("M8[s]")
        _, *tails = "".join(csv_lines(shared, block.said)).splitlines(keepends=True)
        columns = [
            np.datetime_as_string(stamps).tolist(),
            [f"Z,{one}{offset}" for one in np.datetime_as_string(site_stamps).tolist()],
            *(figure_texts(block.figures[name]) for name in SERIES_FIGURES),
            [tails[k] for k in block.which.tolist()],
        ]
        first, second, *rest = columns
        yield "".join(
            f"{stamp}{at},{','.join(cells)}"
            for stamp, at, *cells in zip(first, second, *rest, strict=True)
        )


def series_csv(
    engine: sa.Engine, structure_id: int, from_s: int | None = None, to_s: int | None = None
) -> Iterator[str]:
    """Yield series.csv; opens a session of its own, because it is made while it is sent."""
    with reading_session(engine) as session:
        yield from series_lines(session, structure_id, from_s, to_s)


def series_of_days(
    session: Session, structure_id: int, site: Site, first: str, last: str
) -> Iterator[str]:
    """Yield series.csv of a range of site days as typed; raises BadInput."""
    span = span_of(first, last, site.utc_offset_min)
    begin = None if span.since is None else int(span.since.timestamp())
    end = None if span.until is None else int(span.until.timestamp()) - 1
    yield from series_lines(session, structure_id, begin, end)


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
