"""The long record against plain numpy and raw SQLite doing the bare part of the same work.

Import of a year: numpy.loadtxt of the same file and executemany of the same rows, a row a reading.
Daily rebuild and re-rating of ten years: the same hydraulics on arrays in memory, no database.
Fifty sites: the time a site when there is one and when there are fifty.
"""

import sqlite3
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from sqlmodel import Session

from app.hydraulics.rating.rate import rate
from app.hydraulics.series.daily import daily_flow
from app.records.database import migrate, open_engine
from app.records.people import Person
from app.records.sites import GaugeZero, Rating, Site, Structure
from app.services.days import daily
from app.services.days import rebuild as series_store
from app.services.loggers import take_in as logger_imports
from app.services.record import charts as series_charts
from app.services.review import queue as review_queue
from app.services.series import faults as series_faults
from app.services.sites.dated import device_of
from app.services.takes import use as takes
from tests.conftest import BEGIN

YEAR = 35_040
GOAL_IMPORT = 4.0
NOW = datetime(2026, 11, 25, tzinfo=UTC)
BEGIN_S = int(BEGIN.timestamp())


def run() -> list[str]:
    with tempfile.TemporaryDirectory() as folder:
        return [*one_site(Path(folder)), *many_sites(Path(folder))]


def a_file(years: float, seed: int = 1) -> bytes:
    """Return a logger file of so many years every quarter of an hour."""
    n = int(YEAR * years)
    t = (BEGIN_S + 43_200 + 900 * np.arange(n)).astype("M8[s]")
    rng = np.random.default_rng(seed)
    head = 0.2 + 0.05 * np.sin(np.arange(n) / 3000.0) + rng.normal(0.0, 0.0007, n)
    rows = [f"{a},{b:.4f}" for a, b in zip(np.datetime_as_string(t), head.tolist(), strict=True)]
    return ("time,head (m)\n" + "\n".join(rows) + "\n").encode()


def a_place(session: Session, code: str) -> Structure:
    site = Site(code=code, name=code, utc_offset_min=720)
    session.add(site)
    session.flush()
    assert site.id is not None
    flume = Structure(site_id=site.id, name="F", family="parshall", dims={"size": "1ft"})
    session.add(flume)
    session.flush()
    assert flume.id is not None
    common = {"structure_id": flume.id, "valid_from": BEGIN}
    session.add(Rating(**common, family=flume.family, dims=flume.dims))
    session.add(GaugeZero(**common, crest_rl_m=1.0, zero_rl_m=1.0))
    session.commit()
    return flume


def best(work: Callable[[], object], times: int = 3) -> float:
    """Return the shortest of a few runs, seconds."""
    taken = []
    for _ in range(times):
        begin = time.perf_counter()
        work()
        taken.append(time.perf_counter() - begin)
    return min(taken)


def one_site(folder: Path) -> list[str]:
    url = f"sqlite:///{folder / 'one.sqlite3'}"
    migrate(url)
    engine = open_engine(url)
    lines = []
    with Session(engine, expire_on_commit=False) as session:
        person = Person(name="Bench", role="office", password_hash="-")
        session.add(person)
        session.commit()
        content = a_file(1.0)
        taken = iter(range(100))

        def take() -> None:
            flume = a_place(session, f"B{next(taken)}")
            new = {"structure_id": flume.id, "name": "L"}
            logger_imports.do_import(
                session, flume.site_id, content, "y.csv", person, NOW, new_logger=new
            )
            session.commit()

        take()  # warm
        import_s = best(take)
        peer_s = best(lambda: peer_import(folder, content))
        lines.append(
            f"import of a year to rated flows: {import_s / peer_s:.2f} x loadtxt and executemany "
            f"(goal <= {GOAL_IMPORT})"
        )
        flume = a_place(session, "TEN")
        assert flume.id is not None
        new = {"structure_id": flume.id, "name": "L"}
        ten = a_file(10.0)
        logger_imports.do_import(
            session, flume.site_id, ten, "ten.csv", person, NOW, new_logger=new
        )
        session.commit()
        head, t = heads_of(ten)
        device = device_of(Rating(family=flume.family, dims=flume.dims))  # type: ignore[call-arg]

        def bare() -> None:
            rated = rate(device, head, None, 0.003)
            daily_flow(
                t, rated.discharge_m3s, utc_offset_min=720, uncertainty_pct=rated.uncertainty_pct
            )

        bare_s = best(bare)
        key = flume.id
        whole_s = best(lambda: series_store.rebuild(session, key))
        session.commit()
        lines.append(
            f"ten years made again, flows, days and checks: {whole_s / bare_s:.2f} x rating and "
            "daily sums in numpy"
        )
        kept = series_faults.find
        series_faults.find = lambda *_, **__: []
        try:
            flows_s = best(lambda: series_store.rebuild(session, key))
            session.commit()
        finally:
            series_faults.find = kept
        lines.append(f"ten years re-rated, flows and days only: {flows_s / bare_s:.2f} x the same")
        for name, work in (
            ("chart of ten years, 900 columns", lambda: series_charts.chart(session, key)),
            ("daily table of ten years", lambda: daily.arrays(session, key)),
            ("use of takes", lambda: takes.use(session, key)),
        ):
            lines.append(f"{name}: {best(work) / bare_s:.3f} x the same")
    engine.dispose()
    return lines


def heads_of(content: bytes) -> tuple[np.ndarray, np.ndarray]:
    rows = content.decode().split("\n")[1:-1]
    head = np.array([row.split(",")[1] for row in rows], dtype=float)
    return head, BEGIN_S + 900 * np.arange(head.size, dtype=np.int64)


def peer_import(folder: Path, content: bytes) -> None:
    """Read the file with loadtxt and insert every row, as plainly as it can be done."""
    path = folder / "peer.csv"
    path.write_bytes(content)
    table = np.loadtxt(
        path, delimiter=",", skiprows=1, dtype=[("t", "M8[s]"), ("h", "f8")], encoding="utf-8"
    )
    base = folder / "peer.sqlite3"
    base.unlink(missing_ok=True)
    there = sqlite3.connect(base, isolation_level=None)
    there.execute("PRAGMA journal_mode=WAL")
    there.execute("PRAGMA synchronous=FULL")
    there.execute(
        "CREATE TABLE point (logger_id INTEGER, at_s INTEGER, value_m REAL, file_id INTEGER, "
        "PRIMARY KEY (logger_id, at_s))"
    )
    rows = zip(table["t"].astype(np.int64).tolist(), table["h"].tolist(), strict=True)
    there.execute("BEGIN IMMEDIATE")
    there.executemany("INSERT INTO point VALUES (1, ?, ?, 1)", rows)
    there.execute("COMMIT")
    there.close()


def many_sites(folder: Path) -> list[str]:
    """Return the cost a site with 1, 5, 10, 25 and 50 sites of a quarter each."""
    url = f"sqlite:///{folder / 'many.sqlite3'}"
    migrate(url)
    engine = open_engine(url)
    content = a_file(0.25)
    lines = ["sites | import a site | queue a site | rebuild a site (all as x of one site)"]
    first: tuple[float, float, float] | None = None
    with Session(engine, expire_on_commit=False) as session:
        person = Person(name="Bench", role="office", password_hash="-")
        session.add(person)
        session.commit()
        count = 0
        for goal in (1, 5, 10, 25, 50):
            taken = []
            flume = None
            while count < goal:
                count += 1
                flume = a_place(session, f"M{count}")
                new = {"structure_id": flume.id, "name": "L"}
                begin = time.perf_counter()
                logger_imports.do_import(
                    session, flume.site_id, content, "q.csv", person, NOW, new_logger=new
                )
                session.commit()
                taken.append(time.perf_counter() - begin)
            assert flume is not None
            key = flume.id or 0
            cost = (
                min(taken),
                best(lambda: review_queue.queue(session)) / count,
                best(lambda key=key: series_store.rebuild(session, key)),  # type: ignore[misc]
            )
            session.commit()
            first = first or cost
            shown = " | ".join(f"{now / then:.2f}" for now, then in zip(cost, first, strict=True))
            lines.append(f"{count:5d} | {shown}")
    engine.dispose()
    return lines


if __name__ == "__main__":
    for line in run():
        print(line)
