"""The page of the archive: out as it is made, in where nothing is on record yet."""

import csv
import io
import warnings
from collections.abc import Callable
from pathlib import Path

from csvw import CSVW
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Structure
from tests.builders.archives import members_of, small_record
from tests.builders.fresh import Fresh
from tests.conftest import signed_in
from tests.markup import tight

HTML = {"accept": "text/html"}
IN_FORM = 'enctype="multipart/form-data"'


def sent(client: TestClient, content: bytes) -> str:
    """Send an archive by the form and return the page that answers."""
    files = {"file": ("archive.zip", content, "application/zip")}
    return tight(client.post("/archive", files=files, headers=HTML).text)


def test_out_by_the_button_and_in_where_nothing_is_on_record(
    app: FastAPI,
    session: Session,
    database_url: str,
    fresh: Fresh,
    as_steward: TestClient,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    small_record(session, a_site, a_person, days=1)
    entries = session.exec(select(Entry.id).order_by(Entry.id)).all()
    page = as_steward.get("/archive", headers=HTML).text
    session.rollback()  # the test itself must not hold the database
    assert 'href="/archive.zip"' in page
    assert IN_FORM not in page, "something is on record"
    answer = as_steward.get("/archive.zip")
    assert answer.headers["content-type"] == "application/zip"
    assert 'filename="sillbook-' in answer.headers["content-disposition"]
    archive = answer.content
    assert "into an empty database only" in sent(as_steward, archive)

    session.close()
    for engine in (session.get_bind(), app.state.engine):
        engine.dispose()  # type: ignore[union-attr]
    fresh.make(database_url)
    a_person("Rosa", "steward")
    rosa = signed_in(app, "Rosa")
    assert IN_FORM in rosa.get("/archive", headers=HTML).text
    for content, place in (
        (b"", "no file was chosen"),
        (b"PK nothing", "not a whole zip"),
        (archive[:-40], "not a whole zip"),
    ):
        assert place in sent(rosa, content)
    session.rollback()
    assert not session.exec(select(Entry.id)).all()
    session.rollback()
    done = sent(rosa, archive)
    assert "The archive is taken in" in done
    assert "nothing differs from what the archive carried" in done
    assert rosa.get("/archive").status_code == 401, "everybody is signed out"
    assert session.exec(select(Entry.id).order_by(Entry.id)).all() == entries
    session.rollback()
    page = tight(signed_in(app, "Rosa").get("/archive", headers=HTML).text)
    assert "Where this record is from" in page
    assert "by Rosa:" in page


def test_a_list_of_the_archive_is_read_by_its_description(
    session: Session,
    as_steward: TestClient,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    """By `csvw` from the package registry, an independent reader of the Recommendations."""
    small_record(session, a_site, a_person, days=1)
    members = members_of(as_steward.get("/archive.zip").content)
    for name in ("daily-structure-1.csv", "daily-structure-1.csv-metadata.json"):
        (tmp_path / name).write_bytes(members[f"lists/{name}"])
    with warnings.catch_warnings(record=True) as heard:
        warnings.simplefilter("always")
        read = CSVW(str(tmp_path / "daily-structure-1.csv-metadata.json"), validate=True)
        rows = list(read.tables[0].iterdicts(strict=True))
    assert not [*heard, *read.warnings]
    text = members["lists/daily-structure-1.csv"].decode()
    cells = list(csv.DictReader(io.StringIO(text, newline="")))
    assert [row["volume_m3"] for row in rows] == [
        float(row["volume_m3"]) if row["volume_m3"] else None for row in cells
    ]
    listed = as_steward.get("/structures/1/daily.csv").text
    assert text == listed, "the same list as on the page"
