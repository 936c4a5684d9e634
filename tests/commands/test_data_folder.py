"""Which data a verb works with, and that a slip of the pen in a path is an error, never a trace."""

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlmodel import Session
from typer.testing import CliRunner

from app.cli import cli
from app.records.people import Person
from app.records.sites import Structure
from app.settings import Settings
from tests.conftest import a_reading, send

READERS = [
    ["export", "TANSY"],
    ["daily", "TANSY"],
    ["takes", "TANSY"],
    ["export-daily", "TANSY"],
    ["export-series", "TANSY"],
    ["person", "list"],
    ["migrate"],
    ["new-epoch", "why"],
]


@pytest.fixture
def database_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'sillbook.sqlite3'}"


@pytest.fixture
def held(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> Path:
    """Give a data folder with one reading."""
    monkeypatch.delenv("SILLBOOK_DATABASE_URL", raising=False)
    structure, ines = a_site(), a_person()
    send(session, ines, a_reading(structure, ines))
    session.commit()
    return tmp_path


def run(*words: str | Path) -> tuple[int, str, str]:
    done = CliRunner().invoke(cli, [str(word) for word in words])
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    return done.exit_code, done.stdout, done.stderr


@pytest.mark.parametrize("verb", READERS, ids=lambda v: " ".join(v))
def test_a_mistyped_folder_is_an_error_and_makes_nothing(
    verb: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SILLBOOK_DATABASE_URL", raising=False)
    wrong = tmp_path / "mistyped"
    code, _, said = run(*verb, "--data", wrong)
    assert code == 2
    assert "mistyped" in said
    assert "no Sillbook data" in said
    assert not wrong.exists()
    wrong.mkdir()
    assert run(*verb, "--data", wrong)[0] == 2
    assert list(wrong.iterdir()) == []


def test_a_first_person_may_make_the_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("SILLBOOK_DATABASE_URL", raising=False)
    folder = tmp_path / "new" / "place"
    done = CliRunner().invoke(
        cli, ["person", "add", "Rudd", "--data", str(folder)], input="a long enough password\n"
    )
    assert done.exit_code == 0, done.output
    assert (folder / "sillbook.sqlite3").exists()


def test_a_folder_on_the_line_wins_over_the_environment_and_says_so(
    held: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", "postgresql+psycopg://nobody@127.0.0.1:1/none")
    code, out, said = run("export", "TANSY", "--json", "--data", held)
    assert code == 0
    assert "SILLBOOK_DATABASE_URL" in said
    assert "is not used" in said
    assert len(json.loads(out)["rows"]) == 1


def test_a_structure_of_another_site_is_an_error(held: Path) -> None:
    for verb in ("export", "export-daily", "export-series", "daily", "takes"):
        code, out, said = run(verb, "TANSY", "--structure", "99", "--data", held)
        assert (code, out) == (2, ""), verb
        assert "99" in said, verb


@pytest.mark.parametrize("verb", ["export", "export-daily", "export-series"])
def test_a_file_that_cannot_be_written_is_named(verb: str, held: Path) -> None:
    for target in (held / "no" / "such" / "folder.csv", held):
        code, _, said = run(verb, "TANSY", "--out", target, "--data", held)
        assert code == 2
        assert str(target) in said


def test_a_backup_into_no_folder_is_named(held: Path) -> None:
    code, _, said = run("backup", held / "none" / "copy.sqlite3", "--data", held)
    assert code == 2
    assert "no such folder" in said


def test_certificates_that_are_not_there_are_named(held: Path) -> None:
    code, _, said = run(
        "serve", "--data", held, "--tls-cert", held / "no.pem", "--tls-key", held / "key.pem"
    )
    assert code == 2
    assert "no.pem" in said


def test_a_certificate_that_is_none_is_named(held: Path) -> None:
    (held / "c.pem").write_text("nothing of the kind")
    words = ["serve", "--data", held, "--tls-cert", held / "c.pem", "--tls-key", held / "c.pem"]
    code, _, said = run(*words)
    assert code == 2
    assert "c.pem" in said


def test_a_database_that_does_not_answer_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", "postgresql+psycopg://nobody@127.0.0.1:1/none")
    code, _, said = run("person", "list")
    assert code == 2
    assert "database" in said


def test_workers_get_the_settings_of_the_line(monkeypatch: pytest.MonkeyPatch) -> None:
    """Workers read the environment: HTTPS and the demo mark of the command line must be in it."""
    seen: dict[str, Settings] = {}

    def instead(*_: object, **__: object) -> None:
        seen["settings"] = Settings.from_environment()

    monkeypatch.setattr("app.commands.serve.uvicorn.run", instead)
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", "postgresql+psycopg://u@127.0.0.1:1/d")
    monkeypatch.setenv("SILLBOOK_HOSTS", "a.example,b.example")
    for name in ("SILLBOOK_HTTPS", "SILLBOOK_DATA", "SILLBOOK_DEMO"):
        monkeypatch.delenv(name, raising=False)
    before = dict(os.environ)
    code, _, said = run("serve", "--workers", "2", "--proxy-headers")
    os.environ.clear()
    os.environ.update(before)
    assert code == 0, said
    assert seen["settings"].https
    assert seen["settings"].hosts == ("a.example", "b.example")
    assert seen["settings"].database_url == "postgresql+psycopg://u@127.0.0.1:1/d"


def test_the_program_itself_ends_with_words(tmp_path: Path) -> None:
    environment = {k: v for k, v in os.environ.items() if k != "SILLBOOK_DATABASE_URL"}
    done = subprocess.run(
        [sys.executable, "-m", "app.cli", "export", "X", "--data", str(tmp_path / "none")],
        capture_output=True,
        text=True,
        env=environment,
        check=False,
    )
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
