"""Batches of 200 head readings through sync.accept, against raw inserts of the same rows."""

import sqlite3
import tempfile
import time
from contextlib import closing
from pathlib import Path

from sqlmodel import Session

from app.records.database import migrate, open_engine
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.readings import rate as rating
from app.services.sync import accept as sync
from tests.conftest import BEGIN, a_reading, send

BATCHES = 20
GOAL = 0.25


def run() -> list[str]:
    with tempfile.TemporaryDirectory() as folder:
        return [*compare(Path(folder))]


def compare(folder: Path) -> list[str]:
    url = f"sqlite:///{folder / 'bench.sqlite3'}"
    migrate(url)
    engine = open_engine(url)
    with Session(engine, expire_on_commit=False) as session:
        structure, person = a_place(session)
        batches = [
            [a_reading(structure, person, 0.2, tail_staff_m=0.1) for _ in range(sync.MOST_ENTRIES)]
            for _ in range(BATCHES + 1)
        ]
        send(session, person, *batches.pop())  # warm
        kept = rating.rate_new
        rating.rate_new = lambda *_: {}
        try:
            stored_s = timed(session, person, batches[: BATCHES // 2])
        finally:
            rating.rate_new = kept
        rated_s = timed(session, person, batches[BATCHES // 2 :])
    engine.dispose()
    raw_s = raw(folder / "bench.sqlite3", folder / "raw.sqlite3")
    return [
        f"sync store 200: {raw_s / stored_s:.2f} of raw executemany (goal >= {GOAL})",
        f"sync store and rate 200: {raw_s / rated_s:.2f} of raw executemany",
    ]


def a_place(session: Session) -> tuple[Structure, Person]:
    person = Person(name="Bench", role="crew", password_hash="-")
    site = Site(code="B", name="Bench")
    session.add_all([person, site])
    session.flush()
    assert site.id is not None
    structure = Structure(site_id=site.id, name="F", family="parshall", dims={"size": "1ft"})
    session.add(structure)
    session.flush()
    assert structure.id is not None
    session.add(
        Rating(
            structure_id=structure.id,
            valid_from=BEGIN,
            family=structure.family,
            dims=structure.dims,
        )
    )
    session.add(GaugeZero(structure_id=structure.id, valid_from=BEGIN, crest_rl_m=1, zero_rl_m=1))
    session.commit()
    return structure, person


def timed(session: Session, person: Person, batches: list[list[dict[str, object]]]) -> float:
    begin = time.perf_counter()
    for batch in batches:
        send(session, person, *batch)
    return (time.perf_counter() - begin) / len(batches)


def raw(source: Path, target: Path) -> float:
    """Insert the very rows that were stored, 200 a transaction, on a fresh file."""
    with closing(sqlite3.connect(source)) as here, closing(sqlite3.connect(target)) as there:
        ddl = [r[0] for r in here.execute("SELECT sql FROM sqlite_master WHERE tbl_name='entry'")]
        rows = here.execute("SELECT * FROM entry").fetchall()
        there.isolation_level = None
        there.execute("PRAGMA journal_mode=WAL")
        there.execute("PRAGMA synchronous=FULL")
        for statement in ddl:
            if statement:
                there.execute(statement)
        marks = ",".join("?" * len(rows[0]))
        count = len(rows) // sync.MOST_ENTRIES
        begin = time.perf_counter()
        for start in range(0, len(rows), sync.MOST_ENTRIES):
            there.execute("BEGIN IMMEDIATE")
            part = rows[start : start + sync.MOST_ENTRIES]
            there.executemany(f"INSERT INTO entry VALUES ({marks})", part)
            there.execute("COMMIT")
        return (time.perf_counter() - begin) / count
