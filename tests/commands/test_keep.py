"""import-outbox, as a person types it."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from typer.testing import CliRunner

from app.cli import cli
from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import a_reading

run = CliRunner()


def test_import_outbox_says_what_each_line_is(
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", database_url)
    structure, ines = a_site(), a_person("Ines")
    a_person("Tamsin")
    reading = a_reading(structure, ines)
    file = tmp_path / "outbox.json"
    file.write_text(json.dumps({"sillbook_outbox": 1, "entries": [reading]}))
    answer = run.invoke(cli, ["import-outbox", str(file), "--as", "Tamsin"])
    assert answer.exit_code != 0
    assert "Ines (1)" in answer.output
    answer = run.invoke(cli, ["import-outbox", str(file)])
    assert answer.exit_code == 0, answer.output
    shown, what, words = answer.output.strip().split("\t")
    assert (shown, words) == (reading["id"], "stored")
    assert what.startswith("head reading, ")
    assert what.endswith(", by Ines")
    file.write_text(json.dumps({"sillbook_outbox": 1, "entries": []}))
    assert "nothing to take" in run.invoke(cli, ["import-outbox", str(file)]).output
