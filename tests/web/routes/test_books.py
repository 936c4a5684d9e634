"""The page of old readings: its sheet, its batches, what it refuses."""

import csv
import io
from collections.abc import Callable
from typing import Any

from fastapi.testclient import TestClient

from app.records.sites import Structure

BATCH = "01934000-0000-7000-8000-000000000001"
SHEET: dict[str, str] = {
    "batch": BATCH,
    "made_at": "2026-01-01T00:00:00.000Z",
    "kind": "paper book",
    "name": "Race book 3 (invented)",
    "page": "12",
    "observer": "",
    "unit": "mm",
    "utc_offset": "+12:00",
    "order": "",
}
ROWS: list[Any] = [
    {"row": 1, "cells": {"day": "2024-08-01", "time": "7:30", "staff": "210"}},
    {"row": 2, "cells": {"day": "2024-08-02", "time": "7:30", "staff": "two"}},
]


def as_rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


def test_a_sheet_is_looked_at_taken_in_listed_and_taken_back(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    flume = a_site()
    at = f"/structures/{flume.id}/books"
    shown = as_office.get(at).text
    assert "Nothing from a book was brought in at this site yet" in shown
    content = {"sheet": SHEET, "rows": ROWS}
    looked = as_office.post(f"{at}/look", json=content).json()["rows"]
    assert [one["state"] for one in looked] == ["ready", "refused"]
    assert "L/s" in looked[0]["discharge"]
    assert looked[1]["faults"][0]["field"] == "staff"
    done = as_office.post(at, json=content).json()
    assert [one["state"] for one in done["rows"]] == ["stored", "refused"]
    batch = done["batch"]
    page = as_office.get(f"/books/{batch}").text
    assert "Take back 1 reading" in page
    listed = as_office.get(f"/books/{batch}.json").json()["rows"]
    assert [(r["page"], r["stands"]) for r in listed] == [("12", True)]
    reading = as_office.get(f"/readings/{listed[0]['entry_id']}").text
    assert "from a paper book: Race book 3 (invented), page 12" in reading
    rows = as_rows(as_office.get(f"/sites/{flume.site_id}/readings.csv").text)
    assert rows[0]["source"] == "from a paper book: Race book 3 (invented), page 12"
    assert (rows[0]["observer"], rows[0]["copied_by"]) == ("not written", "Office One")
    marks = as_office.get(f"/structures/{flume.id}/record/marks.json").text
    assert "from a paper book" in marks
    refused = as_office.post(f"/books/{batch}/undo", data={"reason": ""})
    assert refused.status_code == 422
    undone = as_office.post(f"/books/{batch}/undo", data={"reason": "wrong race"})
    assert undone.headers["location"] == f"/books/{batch}"
    assert "This batch was taken back" in as_office.get(f"/books/{batch}").text
    batches = as_rows(as_office.get(f"/sites/{flume.site_id}/books.csv").text)
    assert [(b["entries"], b["standing"], b["reasons"]) for b in batches] == [
        ("1", "0", "wrong race")
    ]
    assert "wrong race" in as_office.get(f"/sites/{flume.site_id}/changes").text


def test_a_file_comes_back_as_rows_or_is_refused_with_its_place(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    at = f"/structures/{a_site().id}/books/file"
    text = "Date;Time;Staff (cm);Remark\n5.8.2024;07:30;21,0;früh\n".encode("cp1252")
    read = as_office.post(at, content=text).json()
    assert read["unit"] == "cm"
    assert read["rows"][0]["cells"]["remark"] == "früh"
    refused = as_office.post(at, content=b"Date,Time,Staff\n2024-08-05,07:30,2\x001\n")
    assert refused.status_code == 422
    assert "row 2, column 3" in refused.text
    over = as_office.post(at, content=b"Date,Time,Head (m)\n2024-08-05,07:30,0.21\n")
    assert "over the crest" in over.text


NO_SHEETS: list[Any] = [
    None,
    [],
    {"sheet": SHEET},
    {"sheet": SHEET, "rows": [1]},
    {"sheet": SHEET, "rows": [{"row": 0, "cells": {}}]},
    {"sheet": SHEET, "rows": [{"row": 1, "cells": {"depth": "1"}}]},
    {"sheet": {**SHEET, "unit": "ft"}, "rows": ROWS},
    {"sheet": {**SHEET, "batch": "mine"}, "rows": ROWS},
    {"sheet": {**SHEET, "utc_offset": "+25:00"}, "rows": ROWS},
    {"sheet": {**SHEET, "name": " "}, "rows": ROWS},
    {"sheet": SHEET, "rows": [{"row": k, "cells": {}} for k in range(1, 6002)]},
    {"sheet": SHEET, "rows": []},
]


def test_what_is_no_sheet_is_refused_in_words(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    at = f"/structures/{a_site().id}/books"
    for content in NO_SHEETS:
        answer = as_office.post(at, json=content)
        assert answer.status_code == 422, str(content)[:200]
        assert answer.json()["rule"]


def test_gaugings_of_a_book_are_looked_at_taken_in_and_shown(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    flume = a_site()
    at = f"/structures/{flume.id}/books/gaugings"
    assert "Old gaugings of Flume" in as_office.get(at).text
    titles = b"Day,Time,Staff (mm),Discharge (L/s),Uncertainty (%),Method,Gauged by,Weather\n"
    text = titles + b"2024-08-01,10:00,210,65,,floats,Ola,dry\n"
    read = as_office.post(f"{at}/file", content=text).json()
    assert (read["unit"], read["flow_unit"], read["left"]) == ("mm", "L/s", ["Weather"])
    assert set(read["rows"][0]["cells"]) >= {"uncertainty", "method", "observer"}
    content = {"sheet": SHEET, "rows": read["rows"]}
    looked = as_office.post(f"{at}/look", json=content).json()["rows"][0]
    assert looked["discharge"] == "65 L/s, uncertainty unknown"
    assert "by the rating" in looked["flow"]
    batch = as_office.post(at, json=content).json()["batch"]
    page = as_office.get(f"/books/{batch}").text
    assert "Take back 1 gauging" in page
    row = as_office.get(f"/books/{batch}.json").json()["rows"][0]
    shown = as_office.get(f"/gaugings/{row['entry_id']}").text
    assert "none: unknown" in shown
    assert "Race book 3 (invented), page 12, by Office One" in shown
    marks = as_office.get(f"/structures/{flume.id}/record/marks.json").text
    assert "uncertainty unknown" in marks
    tests = as_office.get(f"/structures/{flume.id}/rating-tests")
    assert "an indication only" in tests.text
    assert as_office.get("/pack").json()["protocol"] == 1
    assert "took in 1 gauging" in as_office.get(f"/sites/{flume.site_id}/changes").text
