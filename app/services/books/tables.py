"""The batches of a site and the rows of one, as lists."""

from typing import Any

from sqlmodel import Session

from app.language.tables import Column, Table
from app.records.sites import Site
from app.services.books.batches import BookBatch, batches, get_batch, sender
from app.services.books.sheet import GAUGINGS
from app.services.entries.written import observer_of
from app.services.gaugings.results import GaugingResult, results_of
from app.services.readings.list import Span, standing
from app.services.sites.register import get_site

BATCH_COLUMNS = (
    Column("batch", "Batch"),
    Column("structure_id", "Structure id"),
    Column("of", "Rows are"),
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
    Column("entry_id", "Entry"),
    Column("observed_at", "Observed, UTC"),
    Column("observer", "Read by"),
    Column("page", "Page"),
    Column("staff_m", "Staff, m"),
    Column("head_m", "Head, m"),
    Column("tailwater_m", "Tailwater, m over crest"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty, %, k=2"),
    Column("flow", "Flow word or verdict"),
    Column("flags", "Flags"),
    Column("not_rated_reason", "Why"),
    Column("stands", "Stands as copied"),
)


def batch_row(one: BookBatch) -> dict[str, Any]:
    """Return a batch as a row of its list."""
    return {
        "batch": one.id,
        "structure_id": one.structure_id,
        "of": one.of,
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
    """Return a batch, its site and its rows as they are rated or judged now, by time."""
    known, entries, links = get_batch(session, batch)
    site = get_site(session, entries[0].site_id)
    assert site.id is not None
    if known.of == GAUGINGS:
        found = [gauging_cells(one) for one in results_of(session, entries, links)]
    else:
        span = Span(None, None, known.first_at, None)
        rows = standing(session, site.id, span, known.structure_id, with_corrected=True)
        found = [reading_cells(row) for row in rows if row["phone"] == sender(batch)]
    for one, entry in zip(found, entries, strict=True):
        source = entry.body.get("source") or {}
        one |= {"row": source.get("row"), "page": source.get("page", ""), "entry_id": entry.id}
        one |= {"observer": observer_of(entry.body, ""), "stands": links.stands(entry.id)}
    return known, site, found


def reading_cells(row: dict[str, Any]) -> dict[str, Any]:
    """Return a reading as a row of its batch."""
    return {**row, "staff_m": row["body"]["staff_m"][0], "address": f"/readings/{row['id']}"}


def gauging_cells(one: GaugingResult) -> dict[str, Any]:
    """Return a gauging as a row of its batch."""
    heads = one.entry.body.get("heads") or []
    return {
        "observed_at": one.entry.observed_at,
        "staff_m": heads[0]["staff_m"] if heads else None,
        "head_m": one.head_mean_m,
        "tailwater_m": one.tailwater_m,
        "discharge_m3s": one.discharge_m3s,
        "uncertainty_pct": one.uncertainty_pct,
        "flow": one.word,
        "flow_code": None,
        "flags": one.flags,
        "not_rated_reason": one.reason,
        "address": f"/gaugings/{one.entry.id}",
    }


def batch_table(session: Session, batch: str) -> Table:
    _, site, rows = batch_rows(session, batch)
    return Table(f"book-rows-{site.code}", ROW_COLUMNS, rows)
