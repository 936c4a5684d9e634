"""`sillbook export` writes the same head readings as the page."""

import csv
import io
import json
import zipfile
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from sqlmodel import Session
from typer.testing import CliRunner

from app.cli import cli
from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import BEGIN, a_reading, send


@pytest.fixture
def filled(
    monkeypatch: pytest.MonkeyPatch,
    database_url: str,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    structure, ines = a_site(), a_person()
    for days in (30, 40):
        send(session, ines, a_reading(structure, ines, at=BEGIN + timedelta(days=days)))
    session.commit()
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", database_url)


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline=""), strict=True))


@pytest.mark.usefixtures("filled")
def test_a_range_goes_to_standard_output() -> None:
    done = CliRunner().invoke(
        cli, ["export", "TANSY", "--from", "2024-07-01", "--to", "2024-08-01"]
    )
    assert done.exit_code == 0, done.output
    (row,) = rows_of(done.stdout_bytes.decode())
    assert row["observed_at_local"] == "2024-07-31T12:00:00+12:00"


@pytest.mark.usefixtures("filled")
def test_a_file_holds_the_line_ends_of_rfc_4180(tmp_path: Path) -> None:
    out = tmp_path / "g.csv"
    assert CliRunner().invoke(cli, ["export", "TANSY", "--out", str(out)]).exit_code == 0
    assert out.read_bytes().count(b"\r\n") == 3
    assert CliRunner().invoke(cli, ["export", "TANSY", "--json", "--out", str(out)]).exit_code == 0
    assert len(json.loads(out.read_text())["rows"]) == 2


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize("wrong", [["NOPE"], ["TANSY", "--from", "july"]])
def test_a_wrong_word_ends_with_2_and_a_remedy(wrong: list[str]) -> None:
    done = CliRunner().invoke(cli, ["export", *wrong])
    assert done.exit_code == 2
    assert "Use one of: TANSY" in done.stderr or "Such as 2026-11-25" in done.stderr


@pytest.mark.usefixtures("filled")
def test_a_data_set_is_written_as_bytes(tmp_path: Path) -> None:
    out = tmp_path / "tansy.zip"
    asked = ["export", "TANSY", "--what", "everything", "--out", str(out)]
    done = CliRunner().invoke(cli, asked)
    assert done.exit_code == 0, done.output
    with zipfile.ZipFile(out) as whole:
        rows = rows_of(whole.read("readings.csv").decode())
    plain = rows_of(CliRunner().invoke(cli, ["export", "TANSY"]).stdout_bytes.decode())
    assert rows == plain
    assert len(rows) == 2
    done = CliRunner().invoke(cli, ["export", "--what", "sites", "--format", "geojson"])
    assert [one["properties"]["code"] for one in json.loads(done.stdout)["features"]] == ["TANSY"]


@pytest.mark.usefixtures("filled")
@pytest.mark.parametrize(
    ("wrong", "remedy"),
    [
        (["TANSY", "--format", "xlsx"], "One of: csv, json"),
        (["TANSY", "--what", "gaugings", "--format", "netcdf"], "as csv or json"),
        (["--what", "daily"], "Name a site"),
        (["TANSY", "--what", "daily", "--corrected"], "Leave out"),
        ([], "Use one of: TANSY"),
    ],
)
def test_a_data_set_that_cannot_be_ends_with_2_and_a_remedy(wrong: list[str], remedy: str) -> None:
    done = CliRunner().invoke(cli, ["export", *wrong])
    assert done.exit_code == 2
    assert done.stdout == ""
    assert remedy in done.stderr
