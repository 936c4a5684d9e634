"""Logger files in the office: a look before anything is stored, import with progress, undo."""

import json
from collections.abc import Callable
from random import Random

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.sensors import Logger, LoggerBlock, LoggerImport
from app.records.sites import Structure
from tests.services.logger_exports import EXPORTS
from tests.web.record_files import HTML, a_file, imported, seen_of, uploaded


@pytest.fixture
def structure(a_site: Callable[..., Structure], session: Session) -> Structure:
    built = a_site()
    session.commit()
    return built


def rows(session: Session) -> int:
    count = session.execute(sa.select(sa.func.sum(LoggerBlock.count))).scalar()  # type: ignore[call-overload]
    session.commit()
    return int(count or 0)


def test_a_look_says_what_was_understood_and_stores_no_reading(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    path = uploaded(as_office, structure.site_id, a_file(3))
    page = as_office.get(path, headers=HTML).text
    assert "288 rows, every 15 min, standard time, head in mm" in page
    assert "semicolon" in page  # what parts the columns, and why
    assert "2 columns in nearly every row" in page
    assert "2024-08-01 00:00;250,0" in page  # the row as it stands
    assert "2024-08-03 23:45:00" in page
    assert rows(session) == 0
    assert "inv.csv" in as_office.get(f"/sites/{structure.site_id}/loggers", headers=HTML).text


def test_import_then_undo_removes_exactly_its_rows(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    base = f"/sites/{structure.site_id}/loggers"
    assert "3,840 new readings" in imported(
        as_office, structure.site_id, structure.id or 0, a_file()
    )
    second = uploaded(as_office, structure.site_id, a_file(50), "longer.csv")
    logger_id = session.exec(select(Logger.id)).one()
    session.commit()
    look = as_office.get(second, params={"logger": str(logger_id)}, headers=HTML).text
    assert "960 readings are new, 3,840 are held with the same value" in look
    answer = as_office.post(
        second, data={"logger": str(logger_id), "seen": seen_of(look)}, headers=HTML
    )
    assert "960 new readings" in answer.text
    newest = max(session.exec(select(LoggerImport.id)).all())  # type: ignore[type-var]
    before = rows(session)
    refused = as_office.post(f"{base}/imports/{newest}/undo", data={"reason": " "}, headers=HTML)
    assert refused.status_code == 422
    assert rows(session) == before
    undone = as_office.post(f"{base}/imports/{newest}/undo", data={"reason": "wrong site"})
    assert undone.status_code == 303
    assert rows(session) == 3840
    assert "wrong site" in as_office.get(base, headers=HTML).text


def test_what_is_accepted_is_what_was_seen(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    path = uploaded(as_office, structure.site_id, a_file(3))
    form = {"logger": "new", "structure_id": str(structure.id), "reads": "crest"}
    seen = seen_of(as_office.get(path, params=form, headers=HTML).text)
    changed = {**form, "seen": seen, "column_2": "tailwater head"}
    answer = as_office.post(path, data=changed, headers=HTML)
    assert answer.status_code == 422
    assert rows(session) == 0


def test_a_question_has_to_be_answered(as_office: TestClient, structure: Structure) -> None:
    content = b"Date,Head (m)\n" + b"".join(
        b"0%d/0%d/2025,0.2%d\n" % (day, month, day) for month in (3, 4) for day in range(1, 10)
    )
    path = uploaded(as_office, structure.site_id, content)
    page = as_office.get(path, headers=HTML).text
    assert "Questions" in page
    assert "Order of the date" in page
    assert "data-go" not in page  # nothing to press before the answer
    form = {"logger": "new", "structure_id": str(structure.id), "date_order": "day first"}
    page = as_office.get(path, params=form, headers=HTML).text
    assert "data-go" in page
    done = as_office.post(path, data={**form, "seen": seen_of(page)}, headers=HTML)
    assert "18 new readings" in done.text


def test_problems_name_row_and_column(as_office: TestClient, structure: Structure) -> None:
    content = a_file(2).replace(b"2024-08-01 01:00;", b"yesterday;")
    page = as_office.get(uploaded(as_office, structure.site_id, content), headers=HTML).text
    assert "yesterday" in page
    assert '<th scope="row" class="number">7</th>' in page


def test_progress_in_lines_and_the_result_last(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    path = uploaded(as_office, structure.site_id, a_file())
    form = {"logger": "new", "structure_id": str(structure.id)}
    seen = seen_of(as_office.get(path, params=form, headers=HTML).text)
    answer = as_office.post(
        path, data={**form, "seen": seen}, headers={"accept": "application/x-ndjson"}
    )
    lines = [json.loads(line) for line in answer.text.splitlines()]
    assert all(set(line) == {"done", "total"} for line in lines[:-1])
    assert "3,840 new readings" in lines[-1]["html"]
    assert rows(session) == 3840
    again = as_office.post(
        path,
        data={"logger": "new", "seen": "x"},
        headers={"accept": "application/x-ndjson"},
    )
    assert again.status_code == 422  # said on the page, not lost in a stream


def test_conflicts_are_shown_and_the_first_counts(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    imported(as_office, structure.site_id, structure.id or 0, a_file(10))
    logger_id = session.exec(select(Logger.id)).one()
    session.commit()
    path = uploaded(as_office, structure.site_id, a_file(10, peak_at=100), "other.csv")
    look = as_office.get(path, params={"logger": str(logger_id)}, headers=HTML).text
    assert "1 differ from what is held" in look
    as_office.post(path, data={"logger": str(logger_id), "seen": seen_of(look)}, headers=HTML)
    page = as_office.get(
        f"/sites/{structure.site_id}/loggers/{logger_id}/conflicts", headers=HTML
    ).text
    assert "2024-08-02 01:00" in page
    assert "other.csv" in page


@pytest.mark.parametrize(
    "content", [b"\x00\x01\x02\x03", b"no numbers here\nnor here", b"\xff\xd8\xff\xe0 JFIF"]
)
def test_what_is_no_logger_file_is_refused_with_a_remedy(
    as_office: TestClient, structure: Structure, content: bytes
) -> None:
    answer = as_office.get(uploaded(as_office, structure.site_id, content), headers=HTML)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text


def test_an_empty_upload_and_a_stranger(
    as_office: TestClient, as_crew: TestClient, structure: Structure
) -> None:
    path = f"/sites/{structure.site_id}/loggers"
    files = {"file": ("x.csv", b"", "text/csv")}
    assert as_office.post(f"{path}/files", files=files, headers=HTML).status_code == 422
    assert as_office.post(f"{path}/files", data={"a": "b"}, headers=HTML).status_code == 422
    assert as_crew.get(path, headers=HTML).status_code == 403
    assert as_office.get(f"{path}/files/{'0' * 64}", headers=HTML).status_code == 404


def test_columns_that_could_be_the_head_are_shown_and_the_answer_read(
    as_office: TestClient, structure: Structure
) -> None:
    made = EXPORTS["blocks_then_bare_rows"](Random("blocks_then_bare_rows 0"))
    path = uploaded(as_office, structure.site_id, made.raw, "export.txt")
    page = as_office.get(path, headers=HTML).text
    assert "Columns that could be the head" in page
    assert "not vented" in page
    assert "or a temperature" in page
    assert 'name="head_column"' in page
    assert "head not known yet" in page
    assert "data-go" not in page
    told = {"head_column": "3"}
    page = as_office.get(path, params=told, headers=HTML).text
    assert "What column 3 measures" in page
    assert 'name="column_3"' in page
    assert 'name="unit_3"' in page
    told |= {"column_3": "pressure, vented", "unit_3": "cmH2O", "sensor_above_crest_m": "-0.1"}
    told |= {"logger": "new", "name": "Bench", "structure_id": str(structure.id), "reads": "crest"}
    page = as_office.get(path, params=told, headers=HTML).text
    assert "data-go" in page
    answer = as_office.post(path, data={**told, "seen": seen_of(page)}, headers=HTML)
    assert f"{made.t_s.size} new readings" in answer.text


def test_a_file_that_nobody_can_read_offers_the_column_of_the_time(
    as_office: TestClient, structure: Structure
) -> None:
    path = uploaded(as_office, structure.site_id, b"a,b\nc,d\n", "words.txt")
    page = as_office.get(path, headers=HTML).text
    assert 'name="time_column"' in page
    told = as_office.get(path, params={"time_column": "2"}, headers=HTML)
    assert "no time was found in the column" in told.text
