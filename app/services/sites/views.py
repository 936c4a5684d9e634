"""The two dated histories of a structure, its ratings and gauge zeros, as a page lists them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app.errors import SillbookError
from app.hydraulics.families.registry import DEVICES
from app.records.sites import GaugeZero, Rating, Structure
from app.services.sites.changes import names_of
from app.services.sites.dated import device_of
from app.services.sites.register import get_site
from app.services.sites.words import drowning, head_limit


def ratings_of(session: Session, ids: Sequence[int]) -> list[Rating]:
    """Return ratings of structures, newest in force first; of two begun together the newer."""
    return list(
        session.exec(
            select(Rating)
            .where(col(Rating.structure_id).in_(ids))
            .order_by(col(Rating.valid_from).desc(), col(Rating.id).desc())
        )
    )


def zeros_of(session: Session, ids: Sequence[int]) -> list[GaugeZero]:
    """Return gauge zeros of structures, newest in force first."""
    return list(
        session.exec(
            select(GaugeZero)
            .where(col(GaugeZero.structure_id).in_(ids))
            .order_by(col(GaugeZero.valid_from).desc(), col(GaugeZero.id).desc())
        )
    )


def described(rating: Rating) -> str:
    """Return the line people know the structure by; says so when it can no longer be built."""
    try:
        return device_of(rating).describe()
    except SillbookError as error:
        return f"{rating.family}: {error}"


def trust(rating: Rating) -> dict[str, Any]:
    """Return how far a rating is trusted, as cells of a row: drowning, and its highest head."""
    try:
        device = device_of(rating)
    except SillbookError:
        return {"drowning": "", "head_limit_m": None, "head_limit_reason": "", "limit_words": ""}
    return {
        "drowning": drowning(device),
        "head_limit_m": round(device.head_limit_m, 6),
        "head_limit_reason": device.dims.get("head_limit_reason", ""),
        "limit_words": head_limit(device),
        "can_drown": device.can_drown,
    }


def dimensions(rating: Rating) -> list[tuple[str, str]]:
    """Return what a rating was computed from: the name of each dimension and its figure."""
    family = DEVICES.get(rating.family)
    known = {d.key: d for d in family.dimensions} if family else {}
    found = []
    for key, value in rating.dims.items():
        d = known.get(key)
        unit = d.unit if d and d.unit not in ("", "-") else ""
        shown = f"{value} {unit}".strip() if value not in (None, "") else "not given"
        found.append((d.label if d else key.replace("_", " "), shown))
    return found


@dataclass(frozen=True)
class StructureView:
    """A structure with both its histories as rows of a table, newest first."""

    structure: Structure
    family_name: str
    can_drown: bool
    ratings: list[dict[str, Any]]
    zeros: list[dict[str, Any]]

    @staticmethod
    def in_force(rows: Sequence[dict[str, Any]], now: datetime) -> dict[str, Any] | None:
        """Return the row in force now; the rows stand newest first."""
        return next((row for row in rows if row["valid_from"] <= now), None)


def views(session: Session, site_id: int) -> list[StructureView]:
    """Return the structures of a site with their histories, in four statements."""
    get_site(session, site_id)
    structures = session.exec(
        select(Structure).where(Structure.site_id == site_id).order_by(col(Structure.id))
    ).all()
    return _views(session, structures)


def view(session: Session, structure: Structure) -> StructureView:
    """Return one structure with its histories, in three statements."""
    return _views(session, [structure])[0]


def _views(session: Session, structures: Sequence[Structure]) -> list[StructureView]:
    ids = [s.id for s in structures if s.id is not None]
    names = names_of(session)
    titles = {s.id: s.name for s in structures}
    ratings = [
        rating.model_dump()
        | {
            "structure": titles[rating.structure_id],
            "described": described(rating),
            **trust(rating),
            "dimensions": dimensions(rating),
            "by": names.get(rating.by_id or 0),
        }
        for rating in ratings_of(session, ids)
    ]
    zeros = [
        zero.model_dump()
        | {
            "structure": titles[zero.structure_id],
            "offset_m": round(zero.offset_m, 9),
            "tail_offset_m": round(zero.tail_offset_m, 9),
            "by": names.get(zero.by_id or 0),
        }
        for zero in zeros_of(session, ids)
    ]
    return [
        StructureView(
            s,
            DEVICES[s.family].name if s.family in DEVICES else s.family,
            _can_drown(s, [r for r in ratings if r["structure_id"] == s.id]),
            [r for r in ratings if r["structure_id"] == s.id],
            [z for z in zeros if z["structure_id"] == s.id],
        )
        for s in structures
    ]


def _can_drown(structure: Structure, ratings: Sequence[dict[str, Any]]) -> bool:
    """Tell whether the newest rating says that the structure can drown."""
    if ratings and "can_drown" in ratings[0]:
        return bool(ratings[0]["can_drown"])
    return structure.family in DEVICES and DEVICES[structure.family].can_drown
