"""`sillbook import-readings`: a look by default, rows taken in with --yes, a batch taken back."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlmodel import Session, select
from typer.testing import CliRunner

from app.cli import cli
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Structure

run = CliRunner()
FILE = "When;Plate;Whose\n05.08.2024 07:30;21,0;Ines\n06.08.2024 07:30;x;Ines\n"
SAID = ("--time", "When", "--staff", "2", "--unit", "cm", "--observer-column", "whose")


@pytest.fixture
def file(
    session: Session,
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> Path:
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", database_url)
    a_site("TANSY")
    a_person("Rudd", "office")
    a_person("Ines", "crew")
    path = tmp_path / "old.csv"
    path.write_text(FILE)
    return path


def stored(session: Session) -> list[str]:
    kinds = list(session.exec(select(Entry.kind)))
    session.rollback()
    return kinds


def test_a_look_stores_nothing_and_yes_takes_in_what_is_ready(session: Session, file: Path) -> None:
    asked = ["import-readings", "TANSY", str(file), *SAID]
    looked = run.invoke(cli, asked)
    assert looked.exit_code == 1
    assert "column 2, staff x: is no figure" in looked.output
    assert "line 2: ready  2024-08-05 07:30" in looked.output
    assert stored(session) == []
    done = json.loads(run.invoke(cli, [*asked, "--yes", "--json"]).stdout)
    assert done["counts"] == {
        "ready": 0, "question": 0, "refused": 1, "on record": 0, "stored": 1
    }  # fmt: skip
    again = json.loads(run.invoke(cli, [*asked, "--yes", "--json"]).stdout)
    assert again["counts"]["on record"] == 1
    assert stored(session) == ["head_reading"]
    (entry,) = session.exec(select(Entry)).all()
    assert entry.body["source"]["observer"] == "Ines"
    assert entry.body["source"]["observer_id"] is not None
    session.rollback()
    without = run.invoke(cli, ["import-readings", "--undo", done["batch"]])
    assert without.exit_code == 2
    back = run.invoke(cli, ["import-readings", "--undo", done["batch"], "--reason", "wrong race"])
    assert "1 reading of old.csv taken back" in back.output
    anew = json.loads(run.invoke(cli, [*asked, "--yes", "--json"]).stdout)
    assert anew["counts"]["stored"] == 1
    assert anew["batch"] != done["batch"]


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ((), "no column is called day"),
        (("--time", "When", "--staff", "9"), "is no column of the file"),
        (("--time", "When", "--staff", "Plate", "--unit", "ft"), "is none of the list"),
        (("--time", "When", "--staff", "Plate", "--offset", "+99"), "a fixed offset from UTC"),
        (("--undo", "nothing", "--reason", "x"), "batch nothing"),
    ],
)
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_what_does_not_fit_is_refused_in_words(
    file: Path, said: tuple[str, ...], words: str
) -> None:
    answer = run.invoke(cli, ["import-readings", "TANSY", str(file), *said, "--yes"])
    assert answer.exit_code == 2
    assert words in answer.output
