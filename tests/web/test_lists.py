"""Every list as .csv and as .json: the same columns, in the same order, with the same figures.

The routes of the application are walked, so that a new list is held to it by itself; the things of
the demonstration fill the addresses.
"""

import csv
import io
import re
from collections import defaultdict
from itertools import product
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.language.tables import csv_cell
from app.records.entries import Entry
from tests.web.sweep import steward_of
from tests.web.test_guard import routes

NOT_LISTS = {
    "/gaugings/{}.json": "one gauging whole, with its sums",
    "/plans/{}.json": "one plan whole, with its inputs",
    "/api/document.json": "the document of all addresses (OpenAPI)",
}
# of a unit in a key, the words of the unit in the title
UNITS = {
    "_m": ("m",), "_mm": ("mm",), "_m3": ("m3",), "_m3s": ("m3/s",), "_pct": ("%",), "_s": ("s",),
    "_h": ("h",), "_m2": ("m2",), "_m_s": ("m/s",),
}  # fmt: skip


def shape(path: str) -> str:
    return re.sub(r"\{\w+\}", "{}", path)


def lists(app: FastAPI) -> dict[str, set[str]]:
    """Return the endings of each address that has one."""
    found: dict[str, set[str]] = defaultdict(set)
    for route in routes(app):
        stem, _, ending = route.path.rpartition(".")
        moved = route.endpoint.__module__ == "app.web.moved"
        described = stem.endswith(".csv-metadata")
        if (
            ending in ("csv", "json")
            and not described
            and "GET" in (route.methods or ())
            and not moved
        ):
            found[stem].add(ending)
    return found


def things(session: Session, client: TestClient) -> dict[str, list[str]]:
    """Return ids of the demonstration for each part of an address that is left open."""
    entries: dict[str, list[str]] = defaultdict(list)
    for entry in session.exec(select(Entry)):
        entries[entry.kind].append(entry.id)

    books = session.exec(select(Entry).where(col(Entry.phone).startswith("book ")))

    def ids(address: str, key: str = "id") -> list[str]:
        return [str(row[key]) for row in client.get(address).json()["rows"]]

    return {
        "site_id": ["1", "2", "3"],
        "structure_id": ["1", "2", "3"],
        "/readings": entries["head_reading"][:3] + entries["head_reading"][-2:],
        "/gaugings": entries["check_gauging"][:15],
        "/level-runs": entries["level_run"],
        "/visits": entries["visit"][:4] + entries["visit"][-2:],
        "plan_id": [*dict.fromkeys(ids("/sites/3/plans.json", "plan_id"))],
        "rating_id": [i for s in "123" for i in ids(f"/sites/{s}/ratings.json")],
        "key": ids("/settings.json", "key"),
        "instrument_id": ids("/equipment.json"),
        "batch": sorted({e.phone[5:] for e in books}),
        "logger_id": [i for s in "123" for i in ids(f"/sites/{s}/loggers.json")],
    }


def filled(stem: str, held: dict[str, list[str]]) -> list[str]:
    names = re.findall(r"\{(\w+)\}", stem)
    first = "/" + stem.split("/")[1]
    choices = [held[first if name == "entry_id" else name] for name in names]
    found = []
    for chosen in product(*choices):
        given = iter(chosen)
        found.append(re.sub(r"\{\w+\}", lambda _: next(given), stem))  # noqa: B023
    return found


def test_csv_and_json_are_one_list(database_url: str, tmp_path: Path) -> None:
    app, client = steward_of(database_url, tmp_path)
    faults: list[str] = []
    filled_lists = 0
    try:
        with Session(app.state.engine) as session:
            held = things(session, client)
        for stem, endings in sorted(lists(app).items()):
            if endings == {"json"}:
                continue  # a chart or a thing whole: see below
            assert endings == {"csv", "json"}, f"{stem} has only {endings}"
            asked = "?limit=" if stem.endswith("take-periods") else ""
            rows = 0
            for path in filled(stem, held):
                query = f"{asked}{path.split('/')[2]}" if asked else ""
                rows += compare(client, path, query, faults)
            filled_lists += rows > 0
    finally:
        app.state.engine.dispose()
    assert not faults, "\n".join(faults)
    assert filled_lists > 35


def compare(client: TestClient, path: str, query: str, faults: list[str]) -> int:
    """Compare the two forms of a list; return how many rows it has."""
    text, told = client.get(f"{path}.csv{query}"), client.get(f"{path}.json{query}")
    if text.status_code != told.status_code:
        faults.append(f"{path}: {text.status_code} and {told.status_code}")
    if text.status_code != 200 or told.status_code != 200:
        return 0
    stem = re.sub(r".*/", "", path.replace("rate-again/", "rate-again-"))
    named = re.search(r'filename="([^"]*)\.csv"', text.headers["content-disposition"])
    # of one thing by its id the name begins with what it is
    by_id = path.startswith("/level-runs/") or path.endswith("/table")
    same = named is not None and named[1] == told.json()["name"]
    if not same or not (by_id or told.json()["name"].startswith(stem)):
        faults.append(f"{path}: the file is {named and named[1]}, {told.json()['name']}")
    head, *lines = csv.reader(io.StringIO(text.text, newline=""))
    answer: dict[str, Any] = told.json()
    columns = answer["columns"]
    if list(answer)[:4] != ["name", "columns", "units", "meta"]:
        faults.append(f"{path}: the head has {list(answer)}")
    if head != list(columns):
        faults.append(f"{path}: {head} and {list(columns)}")
        return 0
    for key, title in columns.items():
        unit = next((u for u in sorted(UNITS, key=len, reverse=True) if key.endswith(u)), None)
        if unit and not any(
            re.search(rf"(^|[ ,(]){re.escape(u)}($|[ ,)])", title) for u in UNITS[unit]
        ):
            faults.append(f"{path}: {key} is “{title}”, without its unit")
    rows = answer["rows"]
    if "next" not in answer and len(rows) != len(lines):
        faults.append(f"{path}: {len(lines)} and {len(rows)} rows")
    for line, row in zip(lines, rows, strict=False):
        if list(row) != list(columns):
            faults.append(f"{path}: a row has {list(row)}")
            return 0
        for key, cell in zip(head, line, strict=True):
            if csv_cell(row[key]) != cell:
                faults.append(f"{path}: {key} is {cell!r} and {row[key]!r}")
                return len(rows)
            if read_or_levelled(key) and DUSTY.search(cell):
                faults.append(f"{path}: {key} is {cell}, with the dust of a sum")
                return len(rows)
    return len(rows)


DUSTY = re.compile(r"\d\.\d*?(0{6,}[1-9]|9{6,}[0-8])\d*\b")
"""Six noughts or nines and more digits behind them, after the point: nobody reads or levels so."""


def read_or_levelled(key: str) -> bool:
    """Tell of what is read or levelled, and not worked out: a discharge may have such digits."""
    return not key.endswith(("_m3s", "_m3", "_m2"))


def test_json_alone_is_a_chart_or_a_thing_whole(app: FastAPI) -> None:
    alone = {f"{stem}.json" for stem, endings in lists(app).items() if endings == {"json"}}
    for path in alone:
        inside = re.search(r"/(record|history|layers|rating-tests|fits|takes)/\w+\.json$", path)
        chart = path.endswith("/duration.json")
        assert inside or chart or shape(path) in NOT_LISTS, path
