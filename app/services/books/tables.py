"""The batches of a site and the rows of one, as lists."""

from typing import Any

from sqlmodel import Session

from app.language.tables import Column, Table
from app.records.sites import Site
from app.services.books.batches import BookBatch, batches, get_batch, sender
from app.services.entries.links import what_stands
from app.services.entries.written import observer_of
from app.services.readings.list import Span, standing
from app.services.sites.register import get_site

BATCH_COLUMNS = (
    Column("batch", "Batch"),
    Column("structure_id", "Structure id"),
    Column("source_kind", "Copied from"),
    Column("source_name", "Name of the book"),
    Column("copied_by", "Copied by"),
    Column("taken_at", "Taken in, UTC"),
    Column("first_at", "First observed, UTC"),
    Column("last_at", "Last observed, UTC"),
    Column("entries", "Taken in"),
    Column("standing", "In the record"),
    Column("corrected", "Corrected since"),
    Column("state", "State"),
    Column("reasons", "Why taken back"),
)

ROW_COLUMNS = (
    Column("row", "Row"),
    Column("reading_id", "Reading"),
    Column("observed_at", "Observed, UTC"),
    Column("observer", "Read by"),
    Column("page", "Page"),
    Column("staff_m", "Staff, m"),
    Column("head_m", "Head, m"),
    Column("tailwater_m", "Tailwater, m over crest"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty, %, k=2"),
    Column("flow", "Flow word"),
    Column("flags", "Flags"),
    Column("not_rated_reason", "Why not rated"),
    Column("stands", "Stands as copied"),
)


def batch_row(one: BookBatch) -> dict[str, Any]:
    """Return a batch as a row of its list."""
    return {
        "batch": one.id,
        "structure_id": one.structure_id,
        "source_kind": one.kind,
        "source_name": one.name,
        "copied_by": one.by,
        "taken_at": one.taken_at,
        "first_at": one.first_at,
        "last_at": one.last_at,
        "entries": one.entries,
        "standing": one.standing,
        "corrected": one.corrected,
        "state": one.state,
        "reasons": one.reasons,
    }


def batches_table(session: Session, site_id: int) -> Table:
    site = get_site(session, site_id)
    rows = [batch_row(one) for one in batches(session, site_id)]
    return Table(f"books-{site.code}", BATCH_COLUMNS, rows)


def batch_rows(session: Session, batch: str) -> tuple[BookBatch, Site, list[dict[str, Any]]]:
    """Return a batch, its site and its readings as they are rated now, by time."""
    known, entries, _ = get_batch(session, batch)
    site = get_site(session, entries[0].site_id)
    links = what_stands(session, entries[0].site_id)
    span = Span(None, None, known.first_at, None)
    found = []
    for row in standing(session, entries[0].site_id, span, known.structure_id, with_corrected=True):
        if row["phone"] == sender(batch):
            source = row["body"].get("source") or {}
            found.append(
                {
                    **row,
                    "row": source.get("row"),
                    "reading_id": row["id"],
                    "observer": observer_of(row["body"], ""),
                    "page": source.get("page", ""),
                    "staff_m": row["body"]["staff_m"][0],
                    "stands": links.stands(row["id"]),
                }
            )
    return known, site, found


def batch_table(session: Session, batch: str) -> Table:
    _, site, rows = batch_rows(session, batch)
    return Table(f"book-readings-{site.code}", ROW_COLUMNS, rows)
