"""Every list on every page has a twin in .csv and .json, with the same columns in both.

The templates are read for their tables: a table that nobody entered here, or whose page links no
list, fails. What is no list says why.
"""

import csv
import io
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.paths import TEMPLATES
from app.records.people import Person
from app.records.sites import Structure
from tests.builders.web_record_files import a_file, imported
from tests.conftest import a_reading, send
from tests.web.test_guard import routes


class NoList(str):
    """Why a table is no list."""


TYPED = NoList("what was typed on one form, shown beside the sums; the whole record has it")
LOOK = NoList("a look at a file or a change that is not stored yet")
CHART = NoList("the points of a chart of the same page, which has them in its list")
ONE = NoList("facts of one thing, each once")

# template: the twin of each of its tables in order, and the page that links it where it is a part
TABLES: dict[str, tuple[str | NoList, ...]] = {
    "install/as_built.html": ("/as-built",),
    "review/trail.html": ("/audit",),
    "archive/_differences.html": (
        NoList("of one taking in, not of the record; `archive in --json` has it"),
    ),
    "plans/choosing.html": ("/which-flume",),
    "install/sheet.html": ("/commissioning",),
    "corrections/show.html": (
        "/layers-offered",
        "/staff-minus-sensor",
        NoList("the boxes of the form that sets the acceptance bands"),
        "/layers",
    ),
    "books/_sheet.html": (NoList("the sheet while it is filled in"), "/books"),
    "books/ratings.html": (LOOK,),
    "books/batch.html": ("/books/{{ found.id }}",),
    "api/index.html": (NoList("the addresses, which the OpenAPI document has"),),
    "tokens/_list.html": ("/tokens",),
    "sheets/paper.html": (
        NoList("the frame of a sheet, for what stands at the head of each page"),
        NoList("what is printed: its pages in the office have the lists"),
    ),
    "datasets/_choose.html": (NoList("the first rows of the file that the page sends"),),
    "datasets/codebook.html": ("/codebook", "/codebook", "/codebook"),
    "days/_list.html": ("/daily",),
    "days/_totals.html": ("/totals",),
    "days/totals.html": ("/durations",),
    "equipment/index.html": ("/equipment",),
    "equipment/show.html": ("/calibrations", "/places", "/facts"),
    "field/opening.html": (NoList("the phone's form while it is filled in"),),
    "fits/show.html": ("/fit-bands", "/fits"),
    "gaugings/index.html": ("/gaugings",),
    "gaugings/show.html": ("/observed", TYPED),
    "readings/_visit_days.html": ("/daily-readings",),
    "readings/_list.html": ("/history",),
    "readings/index.html": ("/flow-words",),
    "loggers/_candidates.html": (LOOK,),
    "loggers/_conflicts.html": ("/conflicts",),
    "loggers/_rows.html": (LOOK,),
    "loggers/index.html": (
        "/logger-files-waiting",
        "/logger-files-waiting",
        "/loggers",
        "/logger-files",
    ),
    "loggers/look.html": (LOOK,),
    "map/show.html": ("/map", "/map/lines"),
    "plans/index.html": ("/plans",),
    "plans/show.html": ("/candidates", TYPED, "/candidates", "/ponds", "/sections"),
    "fits/card.html": ("/table",),
    "readings/show.html": (TYPED, "/steps", "/values", "/values"),
    "record/_marks.html": ("/record/marks",),
    "record/_table.html": ("/series",),
    "rerating/_changes.html": ("{{ base }}",),
    "rerating/_held.html": ("{{ base }}/months",),
    "rerating/_record.html": (
        NoList("a preview's sums by water year of the months listed beside it"),
        "{{ base }}/takes",
        "{{ base }}/months",
    ),
    "review/months.html": ("/months",),
    "sites/index.html": ("/sites",),
    "ratings/index.html": ("/ratings",),
    "surveys/zeros.html": ("/gauge-zeros",),
    "sites/dimensions.html": (ONE,),
    "fits/tests.html": (
        "/rating-tests",
        CHART,
        CHART,
        CHART,
        "/seasons",
        "/tested-gaugings",
        "/ratings-compared",
    ),
    "surveys/index.html": ("/levels", "/corners"),
    "install/stops.html": ("/install",),
    "surveys/run.html": (ONE, "/level-runs"),
    "takes/index.html": ("/takes",),
    "today/_sites.html": ("/today",),
    "today/levels.html": ("/today/levels",),
    "people/index.html": ("/people",),
    "settings/index.html": ("/settings", ONE),
    "settings/show.html": ("/changes",),
    "visits/index.html": ("/visits",),
    "visits/show.html": ("/entries",),
    "visits/site.html": ("/visits", "/visit-plans"),
    "takes/show.html": ("/take-periods", "/take-calendar", "/race-capacity", "/take-limits"),
}
PAGE_OF = {
    "tokens/_list.html": "tokens/index.html",
    "days/_list.html": "days/show.html",
    "days/_totals.html": "days/totals.html",
    "readings/_visit_days.html": "readings/index.html",
    "readings/_list.html": "readings/index.html",
    "loggers/_conflicts.html": "loggers/conflicts.html",
    "record/_table.html": "record/table.html",
    "rerating/_changes.html": "rerating/look.html",
    "rerating/_held.html": "rerating/look.html",
    "rerating/_record.html": "rerating/look.html",
}


def templates() -> dict[str, str]:
    found = {}
    for path in sorted(Path(TEMPLATES).rglob("*.html")):
        text = path.read_text("utf-8")
        if "<table" in text:
            found[path.relative_to(TEMPLATES).as_posix()] = text
    return found


def test_every_table_of_every_template_is_entered() -> None:
    found = {name: text.count("<table") for name, text in templates().items()}
    assert found == {name: len(twins) for name, twins in TABLES.items()}


def lists_of(page: str) -> list[str]:
    """Return the addresses that `as_list` of `_parts.html` links, as they would be written out."""
    found = []
    for path in re.findall(r"{{ as_list\(([^,)]+)", page):
        parts = [part.strip() for part in path.split("~")]
        text = "".join(p[1:-1] if p[0] == '"' else f"{{{{ {p} }}}}" for p in parts)
        found += [f"{text}.csv", f"{text}.json"]
    return found


@pytest.mark.parametrize("name", TABLES)
def test_a_page_links_the_twins_of_its_tables(name: str) -> None:
    page = (TEMPLATES / PAGE_OF.get(name, name)).read_text("utf-8")
    links = " ".join([*re.findall(r'href="([^"]*)"', page), *lists_of(page)])
    for twin in TABLES[name]:
        if isinstance(twin, NoList):
            assert len(twin) > 10
        elif twin == "/level-runs":
            assert re.search(r"/level-runs/\{\{ entry\.id \}\}\.csv", links)
        else:
            for ending in (".csv", ".json"):
                assert re.search(re.escape(f"{twin}{ending}") + r"(\?|\s|$)", links), twin + ending


def test_lists_come_in_both_forms(app: FastAPI) -> None:
    """A route that answers .csv answers .json, for the same people."""
    by_path = {route.path: route.endpoint for route in routes(app)}
    lists = [path for path in by_path if path.endswith(".csv")]
    assert len(lists) > 40
    for path in lists:
        twin = path.removesuffix(".csv") + ".json"
        assert twin in by_path, path
        assert by_path[twin].__access__ == by_path[path].__access__  # type: ignore[attr-defined]


def test_a_reading_lists_its_values_and_steps(
    as_office: TestClient,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    session: Session,
) -> None:
    structure, person = a_site(), a_person()
    entry = a_reading(structure, person)
    send(session, person, entry)
    session.commit()
    values = as_office.get(f"/readings/{entry['id']}/values.json").json()["rows"]
    assert [row["current"] for row in values] == [True]
    assert values[0]["head_m"] == pytest.approx(0.21)
    steps = as_office.get(f"/readings/{entry['id']}/steps.csv").text
    assert steps.startswith("title,working,result,source")
    assert len(steps.strip().split("\r\n")) > 2
    gone = "0" * 8 + entry["id"][8:]
    assert as_office.get(f"/readings/{gone}/values.json").status_code == 404


def test_twins_have_the_same_columns_and_rows(
    app: FastAPI, as_office: TestClient, a_site: Callable[..., Structure], session: Session
) -> None:
    structure = a_site()
    session.commit()
    imported(as_office, structure.site_id, structure.id or 0, a_file(70, peak_at=3000))
    base = f"/structures/{structure.id}"
    layer = {
        "shape": "offset", "quantity": "head", "from": "2024-08-02T00:00",
        "to": "2024-08-05T00:00", "amount": "0.004", "reason": "a low staff",
    }  # fmt: skip
    assert as_office.post(f"{base}/layers", data=layer).status_code == 303
    limit = {"kind": "daily", "amount": "9000", "valid_from": "2024-08-01"}
    assert as_office.post(f"{base}/takes", data=limit).status_code == 303
    full = {
        "layers", "months", "take-limits", "take-periods?limit=1", "take-calendar",
        "durations", "takes", "daily", "totals", "series",
    }  # fmt: skip
    for name in sorted({*full, "layers-offered", "staff-minus-sensor", "corners"}):
        path, _, query = name.partition("?")
        told = as_office.get(f"{base}/{path}.json?{query}").json()
        text = as_office.get(f"{base}/{path}.csv?{query}").text
        lines = list(csv.reader(io.StringIO(text, newline="")))
        assert lines[0] == list(told["columns"]), name
        count = len(lines) - 1
        assert count == len(told["rows"]) or told.get("next"), name
        assert count > 0 or name not in full, name
        # and every column carries something, or is one that may be empty
        for row in told["rows"][:1]:
            assert set(row) == set(told["columns"])
    (line,) = as_office.get(f"{base}/layers.json").json()["rows"]
    assert (line["shape"], line["amount"], line["reason"]) == ("offset", 0.004, "a low staff")
    months = as_office.get(f"{base}/months.json").json()["rows"]
    assert {"2024-08", "2024-09"} <= {row["month"] for row in months}
