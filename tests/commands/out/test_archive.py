"""`sillbook archive out` and `archive in`, as a person types them."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlmodel import Session
from typer.testing import CliRunner

from app.cli import cli
from app.records.people import Person
from app.records.sites import Structure
from tests.builders.archives import small_record

run = CliRunner()


@pytest.fixture
def database_url(tmp_path: Path) -> str:
    """The engines are told apart below the verbs."""
    return f"sqlite:///{tmp_path / 'sillbook.sqlite3'}"


def test_out_and_into_a_new_folder(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    small_record(session, a_site, a_person, days=1)
    session.rollback()
    here, there, file = str(tmp_path), tmp_path / "new", tmp_path / "record.zip"
    done = run.invoke(cli, ["archive", "out", str(file), "--data", here, "--json"])
    assert done.exit_code == 0, done.output
    told = json.loads(done.output)
    assert told["rows"][0]["size"] == file.stat().st_size
    assert told["counts"]["entry"] == 2
    assert told["counts"]["refused_entry"] == 1
    again = run.invoke(cli, ["archive", "out", str(file), "--data", here])
    assert (again.exit_code, "the file exists" in again.output) == (2, True)

    missing = run.invoke(cli, ["archive", "in", str(tmp_path / "no.zip"), "--data", str(there)])
    assert (missing.exit_code, "no such file" in missing.output) == (2, True)
    assert not there.exists(), "no folder is made for an archive that cannot be read"
    done = run.invoke(cli, ["archive", "in", str(file), "--data", str(there), "--json"])
    assert done.exit_code == 0, done.output
    assert json.loads(done.output)["counts"] == told["counts"]
    assert json.loads(done.output)["rows"] == []
    full = run.invoke(cli, ["archive", "in", str(file), "--data", str(there), "--json"])
    assert full.exit_code == 2
    assert json.loads(full.stdout)["error"]["field"] == "database"

    word = run.invoke(
        cli, ["person", "password", "Office 1", "--data", str(there)], input="a long enough word\n"
    )
    assert word.exit_code == 0, word.output
    out = run.invoke(cli, ["archive", "out", str(tmp_path / "2.zip"), "--data", str(there)])
    assert "original file" in out.output
    listed = run.invoke(cli, ["export", "TANSY", "--data", str(there)]).output
    assert listed == run.invoke(cli, ["export", "TANSY", "--data", here]).output
