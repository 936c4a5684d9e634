"""What is taken out of the record, against numpy writing the same rows plainly.

Ten years every quarter of an hour as series.csv: numpy.savetxt of the very columns, the text of
each row's words made before the clock runs.
"""

import io
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from sqlmodel import Session

from app.records.database import migrate, open_engine
from app.records.people import Person
from app.services.loggers import take_in
from app.services.record.export import series_lines, series_rows
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
                return series_file(session)
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
