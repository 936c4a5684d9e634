"""What is taken out of the record, against numpy writing the same rows plainly.

Ten years every quarter of an hour as series.csv: numpy.savetxt of the very columns, the text of
each row's words made before the clock runs.
"""

import io
import tempfile
import time
import zipfile
from contextlib import nullcontext
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session

from app.records.database import migrate, open_engine
from app.records.people import Person
from app.records.sensors import SERIES
from app.services.datasets.take import Wish, pieces
from app.services.loggers import take_in
from app.services.record.export import series_lines, series_rows
from app.services.series import read as series_read
from tests.benchmarks.record import a_file, a_place

GOAL_SERIES = 3.0
NOW = datetime(2026, 11, 25, tzinfo=UTC)


def run() -> list[str]:
    with tempfile.TemporaryDirectory() as folder:
        url = f"sqlite:///{Path(folder) / 'out.sqlite3'}"
        migrate(url)
        engine = open_engine(url)
        try:
            with Session(engine, expire_on_commit=False) as session:
                lines = series_file(session)
            return [*lines, *columns_of_many(Path(folder))]
        finally:
            engine.dispose()


def series_file(session: Session) -> list[str]:
    person = Person(name="Bench", role="office", password_hash="-")
    session.add(person)
    session.commit()
    flume = a_place(session, "TEN")
    assert flume.id is not None
    new = {"structure_id": flume.id, "name": "L"}
    take_in.do_import(session, flume.site_id, a_file(10.0), "ten.csv", person, NOW, new_logger=new)
    session.commit()
    begin = time.perf_counter()
    size = sum(len(text) for text in series_lines(session, flume.id))
    own_s = time.perf_counter() - begin
    table = np.array(
        [
            (
                row["time_utc"].isoformat(),
                row["site_time"],
                *(row[key] or 0.0 for key in ("head_m_raw", "head_m", "tailwater_m")),
                row["discharge_m3s"],
                row["uncertainty_pct"],
                f"{row['flow']},{row['flags']},{row['how']},{row['quality_word']}",
            )
            for row in series_rows(session, flume.id)
        ],
        dtype="U25,U25,f8,f8,f8,f8,f8,U90",
    )
    begin = time.perf_counter()
    np.savetxt(io.StringIO(), table, fmt="%s,%s,%.17g,%.17g,%.17g,%.17g,%.17g,%s")
    peer_s = time.perf_counter() - begin
    return [
        f"series.csv of ten years, {table.size} rows, {size} bytes: {own_s:.2f} s, "
        f"{own_s / peer_s:.2f} x numpy.savetxt of the same rows (goal <= {GOAL_SERIES})"
    ]


def columns_of_many(folder: Path, sites: int = 200, years: int = 5) -> list[str]:
    """Return how long so many sites take as Parquet, and what two independent readers sum up.

    One site's record is stored again for each, a block at a time, so that making it costs little.
    """
    import dask.dataframe
    import duckdb

    url = f"sqlite:///{folder / 'many.sqlite3'}"
    migrate(url)
    engine = open_engine(url)
    want = 0.0
    with Session(engine, expire_on_commit=False) as session:
        person = Person(name="Bench", role="office", password_hash="-")
        session.add(person)
        session.commit()
        flume = a_place(session, "S0")
        new = {"structure_id": flume.id, "name": "L"}
        take_in.do_import(
            session, flume.site_id, a_file(years), "y.csv", person, NOW, new_logger=new
        )
        session.commit()
        one = series_read.load(session, flume.id or 0)["discharge_m3s"]
        rows = session.connection().execute(sa.select(SERIES)).mappings().all()
        for k in range(1, sites):
            key = a_place(session, f"S{k}").id
            again = [{**row, "structure_id": key} for row in rows]
            session.connection().execute(sa.insert(SERIES), again)
            session.commit()
        want = float(np.nansum(one)) * sites
        wish = Wish(what="series", format_key="parquet").checked()
        path = folder / "many.zip"
        begin = time.perf_counter()
        with path.open("wb") as file:
            file.writelines(pieces(nullcontext(session), wish, NOW))
        made_s = time.perf_counter() - begin
    engine.dispose()
    with zipfile.ZipFile(path) as whole:
        whole.extractall(folder / "many")
    files = f"{folder}/many/site=*/water_year=*/*.parquet"
    count, total = duckdb.sql(
        f"select count(*), sum(discharge_m3s) from read_parquet('{files}', hive_partitioning=true)"
    ).fetchall()[0]
    read = dask.dataframe.read_parquet(str(folder / "many"), columns=["discharge_m3s"])
    by_dask = float(read["discharge_m3s"].sum().compute())
    for name, found in (("DuckDB", total), ("Dask", by_dask)):
        if abs(found - want) > 1e-9 * want:
            raise SystemExit(f"{name} sums {found}, the record {want}")
    return [
        f"Parquet of {sites} sites and {years} years, {count} rows, {path.stat().st_size} bytes: "
        f"{made_s:.1f} s, {made_s / count * 1e6:.2f} s a million rows; DuckDB and Dask agree"
    ]
