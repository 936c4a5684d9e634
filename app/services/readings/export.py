"""The head readings of a site as CSV and JSON, row by row, every figure to its last digit."""

import json
from collections.abc import Iterator
from datetime import timedelta, timezone
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.language.columns import list_head
from app.language.tables import Column, csv_lines, json_value
from app.language.trade import OCCASIONS, TAILWATER
from app.records.database import reading_session
from app.records.entries import Entry
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.entries.links import LINK, what_stands
from app.services.entries.written import copied_by, observer_of, source_words
from app.services.readings.list import Span, standing
from app.services.readings.observed import repeats
from app.services.sites.changes import names_of
from app.services.sites.views import ratings_of, zeros_of

REPEATS = 10

EXPORT_COLUMNS = (
    Column("site_code", "Site code"),
    Column("site_name", "Site"),
    Column("structure_id", "Structure id"),
    Column("structure_name", "Structure"),
    Column("reading_id", "Reading"),
    Column("visit_id", "Visit"),
    Column("observed_at_utc", "Observed, UTC"),
    Column("observed_at_local", "Observed, site time"),
    Column("utc_offset_min", "Site time from UTC, min"),
    Column("occasion", "Occasion"),
    Column("observer", "Observer"),
    Column("visit_observers", "Observers of the visit"),
    *(Column(f"staff_{k}_m", f"Staff reading {k}, m") for k in range(1, REPEATS + 1)),
    Column("staff_mean_m", "Mean staff reading, m"),
    Column("zero_offset_m", "Zero offset added to the staff, m"),
    Column("head_m", "Head over crest, m"),
    Column("head_uncertainty_m", "Uncertainty of head, m, k=2"),
    Column("tailwater_state", "Tailwater"),
    Column("tail_staff_m", "Tail staff reading, m"),
    Column("tail_offset_m", "Offset added to the tail staff, m"),
    Column("tailwater_m", "Tailwater over crest, m"),
    Column("submergence_ratio", "Submergence ratio"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty of discharge, %"),
    Column("coverage_k", "Coverage factor of the uncertainties"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("steadiness", "Steadiness"),
    Column("conditions", "Water conditions"),
    Column("not_rated_reason", "Why not rated"),
    Column("rating_id", "Rating"),
    Column("rating_valid_from", "Rating in force from, UTC"),
    Column("rating_family", "Rating family"),
    Column("gauge_zero_id", "Gauge zero"),
    Column("gauge_zero_valid_from", "Gauge zero in force from, UTC"),
    Column("flow_value_id", "Flow value"),
    Column("engine", "Computed by"),
    Column("rated_at", "Computed, UTC"),
    Column(LINK, "Corrects"),
    Column("correction_reason", "Reason of the correction"),
    Column("corrected_by", "Corrected by"),
    Column("rival", "Another correction stands beside it"),
    Column("phone", "Phone"),
    Column("saved_at", "Saved on the phone, UTC"),
    Column("received_at", "Received by the office, UTC"),
    Column("note", "Note"),
    Column("source", "Copied from"),
    Column("copied_by", "Copied by"),
)

TAIL_WORDS = {**TAILWATER, "read": "read"}  # in a file, the short word it always had


def reading_rows(
    session: Session,
    site: Site,
    span: Span,
    structure_id: int | None = None,
    *,
    with_corrected: bool = False,
) -> Iterator[dict[str, Any]]:
    """Yield the head readings of a site with their discharges, oldest first."""
    assert site.id is not None
    structures = {
        s.id: s for s in session.exec(select(Structure).where(Structure.site_id == site.id))
    }
    ids = [key for key in structures if key is not None]
    ratings = {r.id: r for r in ratings_of(session, ids)}
    zeros = {z.id: z for z in zeros_of(session, ids)}
    names = names_of(session)
    visits = visit_observers(session, site.id)
    zone = timezone(timedelta(minutes=site.utc_offset_min))
    for row in standing(session, site.id, span, structure_id, with_corrected=with_corrected):
        rating, zero = ratings.get(row["rating_id"]), zeros.get(row["gauge_zero_id"])
        structure = structures[row["structure_id"]]
        yield {
            **row,
            "site_code": site.code,
            "site_name": site.name,
            "structure_name": structure.name,
            "reading_id": row["id"],
            "observed_at_utc": row["observed_at"],
            "observed_at_local": row["observed_at"].astimezone(zone),
            "utc_offset_min": site.utc_offset_min,
            "observer": observer_of(row["body"], names.get(row["by_id"], "")),
            "source": source_words(row["body"]),
            "copied_by": copied_by(row["body"], names.get(row["by_id"], "")),
            "visit_observers": visits.get(row["visit_id"] or "", []),
            "coverage_k": 2,
            **observed_cells(row["body"], zero),
            **rating_cells(rating, zero),
        }


def observed_cells(body: dict[str, Any], zero: GaugeZero | None) -> dict[str, Any]:
    staff = body["staff_m"]
    tail = body.get("tailwater") or {}
    return {
        **{f"staff_{k}_m": float(value) for k, value in enumerate(staff, 1)},
        "staff_mean_m": repeats(staff)[0],
        "zero_offset_m": zero.offset_m if zero else None,
        "tail_offset_m": zero.tail_offset_m if zero else None,
        "tailwater_state": TAIL_WORDS[tail.get("state", "not_seen")],
        "tail_staff_m": None if tail.get("staff_m") is None else float(tail["staff_m"]),
        "occasion": OCCASIONS[body.get("occasion", "during")],
        "conditions": body.get("conditions") or [],
        "note": body.get("note") or "",
    }


def rating_cells(rating: Rating | None, zero: GaugeZero | None) -> dict[str, Any]:
    return {
        "rating_valid_from": rating.valid_from if rating else None,
        "rating_family": rating.family if rating else None,
        "gauge_zero_valid_from": zero.valid_from if zero else None,
    }


def visit_observers(session: Session, site_id: int) -> dict[str, list[str]]:
    """Return the observers of each visit of a site, as the visit that stands for it says."""
    links = what_stands(session, site_id)
    found = session.execute(
        sa.select(col(Entry.id), col(Entry.body)).where(
            col(Entry.site_id) == site_id, col(Entry.kind) == "visit"
        )
    )
    said = {visit_id: body.get("observers") or [] for visit_id, body in found}
    return {visit_id: said.get(links.latest(visit_id) or "", []) for visit_id in said}


def export_readings(
    engine: sa.Engine,
    site: Site,
    span: Span,
    structure_id: int | None = None,
    *,
    with_corrected: bool = False,
    as_json: bool = False,
) -> Iterator[str]:
    """Yield readings.csv (RFC 4180, UTF-8, one header row) or the same rows as JSON, in blocks.

    Opens a session of its own, because the text is made while it is being sent.
    """
    with reading_session(engine) as session:
        yield from readings_text(
            session, site, span, structure_id, with_corrected=with_corrected, as_json=as_json
        )


def readings_text(
    session: Session,
    site: Site,
    span: Span,
    structure_id: int | None = None,
    *,
    with_corrected: bool = False,
    as_json: bool = False,
) -> Iterator[str]:
    """Yield the same text from a session that stays open meanwhile."""
    rows = reading_rows(session, site, span, structure_id, with_corrected=with_corrected)
    yield from (
        json_text(file_name(site, span), rows) if as_json else csv_lines(EXPORT_COLUMNS, rows)
    )


def json_text(name: str, rows: Iterator[dict[str, Any]]) -> Iterator[str]:
    yield json.dumps(list_head(name, EXPORT_COLUMNS))[:-1] + ', "rows": ['
    between = "\n"
    for row in rows:
        cells = {c.key: json_value(row.get(c.key)) for c in EXPORT_COLUMNS}
        yield between + json.dumps(cells, ensure_ascii=False)
        between = ",\n"
    yield "\n]}\n"


def file_name(site: Site, span: Span) -> str:
    """Return a file name without ending: readings, code and range."""
    days = [str(day) for day in (span.first, span.last) if day is not None]
    return "-".join(["readings", site.code, *days])
