"""sillbook person and settings, as a person types them; a password comes by standard input."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlmodel import Session
from typer.testing import CliRunner

from app.cli import cli
from app.records.database import utc_now
from app.records.people import Person
from app.records.sites import Structure
from app.services.sites import accounts
from tests.conftest import PASSWORD, a_reading

run = CliRunner()
NEW = "another long password"


@pytest.fixture
def at_home(database_url: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", database_url)


def said(*words: str, typed: str | None = None) -> str:
    answer = run.invoke(cli, ["person", *words], input=typed)
    assert answer.exit_code == 0, answer.output
    return answer.output


@pytest.mark.usefixtures("at_home")
def test_from_adding_to_taking_back(session: Session) -> None:
    session.rollback()
    said("add", "Teal", "--role", "steward", typed=f"{PASSWORD}\n")
    said("add", "Ines", typed=f"{PASSWORD}\n")
    assert "office now" in said("role", "Ines", "office")
    assert "signed in nowhere" in said("password", "Ines", typed=f"{NEW}\n")
    said("rename", "Ines", "Ines Rudd")
    said("retire", "Ines Rudd", "--reason", "left in March")
    listed = {row["name"]: row for row in json.loads(said("list", "--json"))["rows"]}
    assert listed["Ines Rudd"] == {"id": 2, "name": "Ines Rudd", "role": "office", "active": False}
    assert "Ines Rudd\toffice, retired" in said("list")
    assert "as office" in said("restore", "Ines Rudd")
    assert accounts.sign_in(session, "Ines Rudd", NEW, "", utc_now())


@pytest.mark.usefixtures("at_home")
@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["retire", "Teal"], "one active steward must remain"),
        (["role", "Teal", "crew"], "one active steward must remain"),
        (["role", "Teal", "king"], "not a role"),
        (["retire", "Nobody"], "There are: Teal."),
        (["password", "Teal"], "10 to 200 characters"),
    ],
)
def test_what_is_refused_is_said_in_words(
    a_person: Callable[..., Person], words: list[str], told: str
) -> None:
    a_person("Teal", "steward")
    answer = run.invoke(cli, ["person", *words], input="short\n")
    assert answer.exit_code == 2
    assert told in answer.output


@pytest.mark.usefixtures("at_home")
def test_the_outbox_file_of_a_retired_person_is_taken(
    a_person: Callable[..., Person],
    a_site: Callable[..., Structure],
    tmp_path: Path,
) -> None:
    """Nothing saved on a phone is lost, whoever left meanwhile."""
    ines, structure = a_person("Ines"), a_site()
    file = tmp_path / "outbox.json"
    reading = a_reading(structure, ines)
    file.write_text(json.dumps({"sillbook_outbox": 1, "entries": [reading]}))
    said("retire", "Ines")
    for words, state in ((["--as", "Ines"], "stored"), ([], "already held")):
        answer = run.invoke(cli, ["import-outbox", str(file), *words])
        assert answer.exit_code == 0, answer.output
        assert state in answer.output


@pytest.mark.usefixtures("at_home")
def test_settings_are_listed_set_and_put_back(session: Session) -> None:
    session.rollback()
    why = ["--reason", "as agreed"]
    for words, told in (
        (["set", "water_year", "10-01", *why], "The water year begins: 1 October"),
        (["list"], "water_year\t1 October\tset by a verb on the server"),
        (["default", "water_year", *why], "1 July, built in"),
    ):
        answer = run.invoke(cli, ["settings", *words])
        assert answer.exit_code == 0, answer.output
        assert told in answer.output
    answer = run.invoke(cli, ["settings", "set", "water_year", "13-01", *why])
    assert answer.exit_code == 2
    assert "not one of the choices" in answer.output
    answer = run.invoke(cli, ["settings", "list", "--json"])
    assert {row["key"]: row["value"] for row in json.loads(answer.output)["rows"]}[
        "head_unit"
    ] == "mm"
