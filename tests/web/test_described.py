"""Every CSV has a description that a general reader of CSV on the Web reads and finds true.

The reader is `csvw` from the package registry, an independent implementation of the W3C
Recommendations of 17 December 2015.
"""

import csv
import io
import json
import re
import warnings
from pathlib import Path

from csvw import CSVW
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.language import csvw
from app.language.columns import kind_of
from app.language.tables import Column
from tests.web.sweep import steward_of
from tests.web.test_lists import filled, lists, things

MOST = 60  # rows of each: the reader takes some milliseconds a row
OF_EACH = 2  # things of the demonstration: a list's columns are the same for all


def described(client: TestClient, path: str, query: str, place: Path) -> list[str]:
    """Return what is wrong between a CSV and its description."""
    text = client.get(f"{path}.csv{query}")
    if text.status_code != 200:
        return []
    link = re.fullmatch(
        r'<([^>]+)>; rel="describedby"; type="application/csvm\+json"', text.headers["link"]
    )
    assert link is not None, text.headers["link"]
    about = client.get(f"{path.rsplit('/', 1)[0]}/{link[1]}")
    assert about.headers["content-type"] == csvw.MEDIA_TYPE
    told = about.json()
    assert told["url"] == f"{path.rsplit('/', 1)[-1]}.csv{query}", "the address of the CSV"
    lines = list(csv.reader(io.StringIO(text.text, newline="")))[: MOST + 1]
    with (place / "list.csv").open("w", newline="", encoding="utf-8") as file:
        csv.writer(file, lineterminator="\r\n").writerows(lines)
    (place / "list.json").write_text(json.dumps(told | {"url": "list.csv"}))
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        read = CSVW(str(place / "list.json"), validate=True)
        try:
            rows = list(read.tables[0].iterdicts(strict=True))
        except ValueError as error:
            return [f"{path}: {error}"]
    faults = [f"{path}: {warning.message}" for warning in [*heard, *read.warnings]]
    head, *sent = lines
    if len(rows) != len(sent):
        faults.append(f"{path}: {len(rows)} rows read, {len(sent)} sent")
    for row, cells in zip(rows, sent, strict=False):
        for key, cell in zip(head, cells, strict=True):
            if isinstance(row[key], float) and float(cell) != row[key]:
                faults.append(f"{path}: {key} is {cell}, read as {row[key]}")
    return faults


def test_a_general_reader_reads_every_list(tmp_path: Path) -> None:
    app, client = steward_of(f"sqlite:///{tmp_path}/demo.sqlite3", tmp_path)
    faults: list[str] = []
    read = 0
    try:
        with Session(app.state.engine) as session:
            held = things(session, client)
        for stem, endings in sorted(lists(app).items()):
            if "csv" not in endings:
                continue
            asked = "?limit=" if stem.endswith("take-periods") else ""
            for path in filled(stem, held)[:OF_EACH]:
                query = f"{asked}{path.split('/')[2]}" if asked else ""
                faults += described(client, path, query, tmp_path)
                read += 1
    finally:
        app.state.engine.dispose()
    assert not faults, "\n".join(sorted(set(faults))[:40])
    assert read > 100


def test_a_question_stands_in_the_address(as_office: TestClient) -> None:
    answer = as_office.get("/equipment.csv-metadata.json?kind=logger")
    assert answer.json()["url"] == "equipment.csv?kind=logger"


def test_kinds_follow_from_key_and_title() -> None:
    """Units are UCUM codes (common practice: the unit stands at the end of the key)."""
    said = {c["name"]: c for c in csvw.described("x", "x.csv", COLUMNS)["tableSchema"]["columns"]}
    assert said["discharge_m3s"][csvw.UCUM_CODE] == "m3/s"
    assert said["mean_velocity_m_s"][csvw.UCUM_CODE] == "m/s"
    assert said["repeats_m"]["separator"] == "; "
    assert csvw.UCUM_CODE not in said["repeats_m"]
    assert [kind_of(column) for column in COLUMNS] == [
        "number", "number", "string", "dateTime", "date", "boolean", "integer", "string", "list",
    ]  # fmt: skip


COLUMNS = (
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("mean_velocity_m_s", "Mean velocity, m/s"),
    Column("valid_from", "From"),
    Column("valid_from", "In force from, UTC"),
    Column("due_on", "Next due"),
    Column("can_drown", "Can drown"),
    Column("head_reading_count", "Readings"),
    Column("reason", "Reason"),
    Column("repeats_m", "Repeats, m"),
)
