"""What scripts are told: the examples of the page run as they stand, and the document is sound.

The document is checked by the independent `openapi-spec-validator` (OpenAPI 3.1), the answers of a
server by a shell with curl and by Python's own urllib.
"""

import html
import json
import os
import re
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import uvicorn
from fastapi import FastAPI
from fastapi.testclient import TestClient
from openapi_spec_validator import validate
from sqlmodel import Session, select

from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import signed_in
from tests.web.routes.test_tokens import HTML, made, shown


@pytest.fixture
def running(app: FastAPI) -> Iterator[str]:
    """Serve the application on a free port of this machine; give its address."""
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=0, log_level="error"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        for _ in range(500):
            if server.started:
                break
            time.sleep(0.01)
        port = server.servers[0].sockets[0].getsockname()[1]
        yield f"http://127.0.0.1:{port}"
    finally:
        server.should_exit = True
        thread.join(20)


def test_the_examples_run_as_they_stand(
    running: str,
    app: FastAPI,
    a_person: Callable[..., Person],
    a_site: Callable[..., Structure],
    tmp_path: Path,
    session: Session,
) -> None:
    a_site()
    a_person("Ines", "crew")
    ines = signed_in(app, "Ines")
    token = made(ines, "write")
    where = {"host": running.removeprefix("http://")}
    page = ines.get("/api", headers=HTML | where).text
    found = re.findall(r'data-run="(\w+)">(.*?)</code>', page, re.S)
    assert [how for how, _ in found] == ["shell", "python"] * 3
    said, before = [], ines.get("/sites/1/readings.csv?from=2026-01-01").content
    for how, text in found:
        order = ["bash", "-e"] if how == "shell" else [sys.executable, "-"]
        done = subprocess.run(
            order,
            input=html.unescape(text),
            cwd=tmp_path,
            env=os.environ | {"SILLBOOK_TOKEN": token},
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
        assert done.returncode == 0, (how, text, done.stderr)
        said.append(done.stdout)
    assert json.loads(said[0])["name"] == "sites"
    assert (tmp_path / "readings.csv").read_bytes() == before
    about = json.loads((tmp_path / "readings.csv-metadata.json").read_text())
    assert about["@context"][0] == "http://www.w3.org/ns/csvw"
    assert json.loads(said[4])["receipts"][0]["state"] == "stored"
    assert " already_held " in said[5]
    assert len(session.exec(select(Entry)).all()) == 1
    session.rollback()

    ines.post("/tokens/1/revoke", headers=HTML)
    gone = subprocess.run(
        ["bash", "-e"], input=html.unescape(found[0][1]), capture_output=True, text=True,
        env=os.environ | {"SILLBOOK_TOKEN": token}, timeout=60, check=False,
    )  # fmt: skip
    assert gone.returncode != 0


def test_the_document_is_sound_and_tells_every_address(
    app: FastAPI, as_office: TestClient, client: TestClient
) -> None:
    assert client.get("/api/document.json").status_code == 401
    said = as_office.get("/api/document.json").json()
    validate(said)
    assert "/sync" in said["paths"]
    lists = {p for p in app.openapi()["paths"] if p.endswith((".csv", ".json"))}
    assert lists <= set(said["paths"])
    summaries = set()
    for path, ways in said["paths"].items():
        for operation in ways.values():
            assert operation["summary"], path
            summaries.add(operation["summary"])
            for one in operation.get("parameters", []):
                assert one["description"], (path, one["name"])
    assert len(summaries) == len(said["paths"]), "two addresses are told alike"


def test_an_empty_database_has_the_page_too(app: FastAPI, a_person: Callable[..., Person]) -> None:
    a_person("Ines", "crew")
    ines = signed_in(app, "Ines")
    assert "the examples ask for site 1" in ines.get("/api", headers=HTML).text
    assert ines.get("/sites.json", headers=shown(made(ines))).json()["rows"] == []
