"""Rows of the record that no session holds: what a test says of them, the rest made up."""

from datetime import UTC, datetime
from typing import Any

from app.records.entries import Entry
from app.records.sites import GaugeZero, Structure

NOW = datetime(2026, 11, 25, 9, 0, tzinfo=UTC)


def entry_row(kind: str, body: dict[str, Any], structure_id: int | None = None) -> Entry:
    """Return an entry of the first site."""
    return Entry(
        id="e",
        kind=kind,
        site_id=1,
        structure_id=structure_id,
        observed_at=NOW,
        utc_offset_min=0,
        by_id=1,
        saved_at=NOW,
        received_at=NOW,
        phone="made up",
        body=body,
        content_sha256="0" * 64,
    )


def structure_row(
    head_uncertainty_m: float = 0.003, pond_area_m2: float | None = None
) -> Structure:
    """Return the first structure of the first site."""
    return Structure(
        id=1,
        site_id=1,
        name="S",
        family="parshall",
        dims={"size": "1ft"},
        head_uncertainty_m=head_uncertainty_m,
        pond_area_m2=pond_area_m2,
    )


def zero_row(valid_from: datetime, offset_m: float = 0.0, number: int = 1) -> GaugeZero:
    """Return a gauge zero of the first structure, its staff's nought above the crest by so much."""
    return GaugeZero(
        id=number,
        structure_id=1,
        valid_from=valid_from,
        crest_rl_m=10.0,
        zero_rl_m=10.0 + offset_m,
    )
