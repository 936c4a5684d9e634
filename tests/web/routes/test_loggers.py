"""Logger files in the office: a look before anything is stored, import with progress, undo."""

import json
from collections.abc import Callable

import pytest
import sqlalchemy as sa
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.sensors import Logger, LoggerBlock, LoggerImport
from app.records.sites import Structure
from tests.builders.web_record_files import HTML, a_file, imported, seen_of, uploaded


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


def test_an_empty_upload_is_refused_with_a_remedy(
    as_office: TestClient, structure: Structure
) -> None:
    path = f"/sites/{structure.site_id}/loggers/files"
    answer = as_office.post(path, files={"file": ("x.csv", b"", "text/csv")}, headers=HTML)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.text


def waiting_of(client: TestClient, site_id: int) -> list[dict[str, object]]:
    answer = client.get(f"/sites/{site_id}/logger-files-waiting.json")
    rows: list[dict[str, object]] = answer.json()["rows"]
    return rows


def test_a_file_uploaded_on_a_sites_page_is_of_that_site(
    as_office: TestClient, structure: Structure, a_site: Callable[..., Structure]
) -> None:
    other = a_site("OTHER")
    uploaded(as_office, structure.site_id, a_file(3))
    (line,) = waiting_of(as_office, structure.site_id)
    assert (line["site_id"], line["state"], line["by"]) == (
        structure.site_id,
        "waiting",
        "Office One",
    )
    assert waiting_of(as_office, other.site_id) == []
    page = as_office.get(f"/sites/{structure.site_id}/loggers", headers=HTML).text
    assert "no site said" not in page
    uploaded(as_office, other.site_id, a_file(3))  # the same bytes, said to be of another site
    assert len(waiting_of(as_office, other.site_id)) == 1
    assert len(waiting_of(as_office, structure.site_id)) == 1
    review = as_office.get("/review.json").json()["rows"]
    assert sorted(row["site_code"] for row in review if row["kind"] == "file") == [
        "OTHER",
        "TANSY",
    ]
    assert len({row["key"] for row in review}) == len(review)


def test_a_waiting_file_is_discarded_with_a_reason_and_taken_up_again(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    base = f"/sites/{structure.site_id}/loggers"
    path = uploaded(as_office, structure.site_id, a_file(3))
    refused = as_office.post(f"{path}/discard", data={"reason": " "}, headers=HTML)
    assert refused.status_code == 422
    assert "Say why" in refused.text
    assert as_office.post(f"{path}/discard", data={"reason": "a trial run"}).status_code == 303
    page = as_office.get(base, headers=HTML).text
    assert "1 file was discarded" in page
    assert "a trial run" in page
    look = as_office.get(path, headers=HTML).text
    assert "data-go" not in look
    form = {"logger": "new", "structure_id": str(structure.id)}
    late = as_office.post(path, data={**form, "seen": seen_of(look)}, headers=HTML)
    assert late.status_code == 422  # somebody who had the page open is told, nothing is taken in
    assert "discarded it: a trial run" in late.text
    assert rows(session) == 0
    (line,) = waiting_of(as_office, structure.site_id)
    assert (line["state"], line["reason"], line["act_by"]) == (
        "discarded",
        "a trial run",
        "Office One",
    )
    assert not [r for r in as_office.get("/review.json").json()["rows"] if r["kind"] == "file"]
    sha256 = path.rsplit("/", 1)[1]
    assert as_office.get(f"/kept/{sha256}").content == a_file(3)  # the original stays
    twice = as_office.post(f"{path}/discard", data={"reason": "again"}, headers=HTML)
    assert twice.status_code == 422
    assert as_office.post(f"{path}/take-up", data={"reason": "it is real"}).status_code == 303
    assert waiting_of(as_office, structure.site_id)[0]["state"] == "waiting"
    assert "data-go" in as_office.get(path, params=form, headers=HTML).text
    acts = [
        (row["action"], row["reason"])
        for row in as_office.get(f"/sites/{structure.site_id}/changes.json").json()["rows"]
        if row["action"].startswith("logger file")
    ]
    assert acts == [
        ("logger file taken up again", "it is real"),
        ("logger file discarded", "a trial run"),
    ]


def test_an_import_answers_a_waiting_file_until_it_is_brought_again(
    as_office: TestClient, structure: Structure, session: Session
) -> None:
    base = f"/sites/{structure.site_id}/loggers"
    imported(as_office, structure.site_id, structure.id or 0, a_file(3))
    assert waiting_of(as_office, structure.site_id) == []
    newest = session.exec(select(LoggerImport.id)).one()
    session.commit()
    as_office.post(f"{base}/imports/{newest}/undo", data={"reason": "wrong flume"})
    assert waiting_of(as_office, structure.site_id) == []
    uploaded(as_office, structure.site_id, a_file(3))
    assert len(waiting_of(as_office, structure.site_id)) == 1


def test_an_empty_file_is_said_to_be_empty(as_office: TestClient, structure: Structure) -> None:
    answer = as_office.post(
        f"/sites/{structure.site_id}/loggers/files",
        files={"file": ("x.csv", b"", "text/csv")},
        headers=HTML,
    )
    assert answer.status_code == 422
    assert "it is empty" in answer.text
    assert "Split" not in answer.text


def test_lists_of_files_have_their_twins(
    as_office: TestClient, structure: Structure, session: Session, a_site: Callable[..., Structure]
) -> None:
    imported(as_office, structure.site_id, structure.id or 0, a_file(10))
    logger_id = session.exec(select(Logger.id)).one()
    session.commit()
    path = uploaded(as_office, structure.site_id, a_file(10, peak_at=100), "other.csv")
    look = as_office.get(path, params={"logger": str(logger_id)}, headers=HTML).text
    as_office.post(path, data={"logger": str(logger_id), "seen": seen_of(look)}, headers=HTML)
    site = f"/sites/{structure.site_id}"
    for name, count in (
        ("loggers", 1),
        ("logger-files", 2),
        (f"loggers/{logger_id}/conflicts", 1),
    ):
        found = as_office.get(f"{site}/{name}.json").json()
        assert len(found["rows"]) == count, name
        head = as_office.get(f"{site}/{name}.csv").text.split("\r\n")[0]
        assert head.split(",") == list(found["columns"])
    other = a_site("OTHER")
    elsewhere = as_office.get(f"/sites/{other.site_id}/loggers/{logger_id}/conflicts.csv")
    assert elsewhere.status_code == 404
