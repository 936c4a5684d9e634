"""The lists of Today for .csv and .json: every site, and what needs a person."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.language.tables import Column, Table
from app.services.today.board import SiteRow
from app.services.today.lines import Line
from app.services.today.zeros import zeros_due

SITE_COLUMNS = (
    Column("site_id", "Site id"),
    Column("code", "Code"),
    Column("name", "Site"),
    Column("structures", "Structures"),
    Column("last_at", "Newest, UTC"),
    Column("last_from", "From"),
    Column("last_structure", "Of structure"),
    Column("age_h", "Age, h"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty, %, k=2"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("reason", "Why not rated"),
    Column("month_measured", "Share of the month so far measured"),
    Column("month_estimated", "Share of the month so far estimated"),
    Column("last_30_days", "Last 30 days, in words"),
    Column("stale", "Out of date, because"),
    Column("lacking", "Not ready, because"),
)
WORK_COLUMNS = (
    Column("key", "Kind"),
    Column("urgency", "How pressing"),
    Column("count", "How many"),
    Column("title", "What"),
    Column("address", "Its list"),
    Column("things", "The first of them"),
)
ZERO_COLUMNS = (
    Column("site_id", "Site id"),
    Column("site_code", "Site"),
    Column("site_name", "Site name"),
    Column("structure_id", "Structure id"),
    Column("structure", "Structure"),
    Column("state", "State"),
    Column("words", "Said of it"),
    Column("zero_from", "Gauge zero in force from, UTC"),
    Column("levelled_at", "Last level run that stands, UTC"),
    Column("levelled_days_ago", "Days since"),
)


def row_of(row: SiteRow) -> dict[str, Any]:
    """Return a site as a row of SITE_COLUMNS; what is not known is empty."""
    news, month = row.news, row.month
    return {
        "site_id": row.id,
        "code": row.site.code,
        "name": row.site.name,
        "structures": [x.name for x in row.structures],
        "last_at": news.at if news else None,
        "last_from": news.source if news else None,
        "last_structure": next(
            (x.name for x in row.structures if news and x.id == news.structure_id), None
        ),
        "age_h": None if row.age_s is None else round(row.age_s / 3600.0, 2),
        "discharge_m3s": news.discharge_m3s if news else None,
        "uncertainty_pct": news.uncertainty_pct if news else None,
        "flow": row.flow or None,
        "flags": list(news.flags) if news else [],
        "reason": news.reason if news else "",
        "month_measured": round(month.measured, 4) if month else None,
        "month_estimated": round(month.estimated, 4) if month else None,
        "last_30_days": row.line.title if row.line else "",
        "stale": row.stale,
        "lacking": list(row.lacking),
    }


def sites_table(rows: Sequence[SiteRow]) -> Table:
    """Return sites of the board as a table."""
    return Table("today", SITE_COLUMNS, [row_of(row) for row in rows])


def work_table(lines: Sequence[Line]) -> Table:
    """Return what needs a person as a table."""
    return Table("work", WORK_COLUMNS, [line.as_row() for line in lines])


def zeros_table(session: Session, now: datetime) -> Table:
    """Return the structures whose zero is due as a table."""
    return Table("levels-due", ZERO_COLUMNS, [line.as_row() for line in zeros_due(session, now)])
