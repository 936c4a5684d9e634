"""A small record of every kind of thing, its archive, and an archive packed anew after a change."""

import hashlib
import io
import json
import zipfile
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import sqlalchemy as sa
from sqlmodel import Session

from app.records.people import Person
from app.records.review import MonthState
from app.records.sites import Structure
from app.services.archive import out
from app.services.days import rebuild
from tests.builders.record_files import JULY, NOW, a_bench, calm, log_text, times
from tests.conftest import a_reading, send

LATER = NOW + timedelta(days=1)
MONTH = 2025 * 12 + 6  # July 2025, the month of the logger file


def small_record(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    days: float = 3,
) -> Structure:
    """Put a site on record with readings, a refused entry, a logger file and an approved month."""
    bench = a_bench(session, a_site, a_person)
    good = a_reading(bench.structure, bench.person, 0.21)
    other = a_reading(bench.structure, bench.person, 0.212, corrects=good["id"], reason="misread")
    other["body"]["note"] = 'Ngā kōrero: "wet", \u2028 =1+1'
    send(session, bench.person, good, other, {"id": "no entry at all"})
    t_s = times(days, JULY)
    bench.take(log_text(t_s, calm(t_s)))
    session.add(
        MonthState(
            structure_id=bench.id, month=MONTH, revision=1, state="approved",
            reason="looked through", by_id=bench.person.id, at=NOW,
        )
    )  # fmt: skip
    rebuild.rebuild(session, bench.id)
    session.commit()
    return bench.structure


def archived(engine: sa.Engine, now: datetime = NOW) -> bytes:
    """Return the archive of a database."""
    return b"".join(out.blocks(engine, now))


def members_of(archive: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(archive)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def packed(members: dict[str, bytes]) -> bytes:
    """Return a zip of these members as they are."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as made:
        for name, content in members.items():
            made.writestr(name, content)
    return held.getvalue()


def told(members: dict[str, bytes], **changes: Any) -> dict[str, bytes]:
    """Return members with a manifest that gives their true sizes and sums, and these changes."""
    said = json.loads(members["manifest.json"])
    said["files"] = {
        name: {"size": len(content), "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in members.items()
        if name != "manifest.json"
    }
    return {**members, "manifest.json": json.dumps({**said, **changes}).encode()}


def with_row(
    members: dict[str, bytes], table: str, change: Callable[[dict[str, Any]], None], number: int = 1
) -> dict[str, bytes]:
    """Return members in which somebody changed one row and made the manifest fit."""
    name = f"rows/{table}.jsonl"
    lines = members[name].splitlines(keepends=True)
    row = json.loads(lines[number - 1])
    change(row)
    lines[number - 1] = json.dumps(row).encode() + b"\n"
    return told({**members, name: b"".join(lines)})
