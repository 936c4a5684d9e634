"""import-log, daily, takes and the export verbs, as a person types them."""

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from sqlmodel import Session
from typer.testing import CliRunner

from app.cli import cli
from app.records.people import Person
from app.records.sites import Structure
from app.services.takes import limits as take_limits
from tests.builders.record_files import NOW, Bench, a_bench, log_text, times
from tests.services.days.test_rebuild import ONE_TO_ONE

run = CliRunner()


@pytest.fixture
def bench(
    session: Session,
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> Bench:
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", database_url)
    return a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    t = times(3)
    path = tmp_path / "logger.csv"
    path.write_bytes(log_text(t, np.full(t.size, 0.02)))
    return path


def said(*words: str) -> Any:
    result = run.invoke(cli, list(words))
    assert result.exit_code == 0, result.output
    return json.loads(result.stdout)


def test_a_file_is_shown_first_and_taken_in_with_yes(bench: Bench, file: Path) -> None:
    look = run.invoke(cli, ["import-log", "TANSY", str(file)])
    assert look.exit_code == 1
    assert "289 rows, every 15 min" in look.stdout
    assert "Add --yes" in look.output
    done = said("import-log", "TANSY", str(file), "--yes", "--json")
    assert (done["state"], done["new"]) == ("imported", 289)
    again = said("import-log", "TANSY", str(file), "--yes", "--json")
    assert again["state"] == "already_held"


def test_daily_and_takes_and_exports(bench: Bench, file: Path, tmp_path: Path) -> None:
    form = {"kind": "daily", "amount": "1000", "valid_from": "2025-07-01"}
    take_limits.add_limit(bench.session, bench.id, form, bench.person, NOW)
    bench.session.commit()
    said("import-log", "TANSY", str(file), "--yes", "--json", "--as-column", "2=head:m")
    found = said("daily", "TANSY", "--from", "2025-07-01", "--to", "2025-07-03", "--json")
    assert [day["volume_m3"] for day in found["days"]] == pytest.approx([1728.0] * 3)
    (take,) = said("takes", "TANSY", "--json")["takes"]
    assert (take["verdict"], take["times_over"], take["kind"]) == ("over", 3, "daily")
    out = tmp_path / "daily.csv"
    assert run.invoke(cli, ["export-daily", "TANSY", "--out", str(out)]).exit_code == 0
    rows = list(csv.DictReader(io.StringIO(out.read_text("utf-8"), newline="")))
    assert rows[0]["volume_m3"] == repr(found["days"][0]["volume_m3"])
    series = run.invoke(cli, ["export-series", "TANSY", "--to", "2025-07-01"])
    assert series.exit_code == 0
    assert len(series.stdout.splitlines()) == 97
    for verb in ("daily", "takes"):
        plain = run.invoke(cli, [verb, "TANSY"])
        assert plain.exit_code == 0
        assert plain.stdout


@pytest.mark.parametrize(
    "words",
    [
        ["import-log", "NOWHERE", "FILE", "--yes"],
        ["import-log", "TANSY", "missing.csv", "--yes"],
        ["import-log", "TANSY", "FILE", "--yes", "--as-column", "two=head"],
        ["import-log", "TANSY", "FILE", "--yes", "--answer", "nonsense"],
        ["import-log", "TANSY", "FILE", "--yes", "--by", "Nobody"],
        ["import-log", "TANSY", "FILE", "--yes", "--clock-shape", "bent"],
        ["daily", "TANSY", "--from", "yesterday"],
        ["daily", "TANSY", "--structure", "999"],
        ["takes", "NOWHERE"],
    ],
)
def test_what_cannot_be_is_refused_in_words(bench: Bench, file: Path, words: list[str]) -> None:
    result = run.invoke(cli, [str(file) if word == "FILE" else word for word in words])
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    assert result.stderr.strip()


def test_a_question_is_named_with_the_answer_it_takes_and_then_imported(
    bench: Bench, tmp_path: Path
) -> None:
    # 103.2 kPa less 1012 hPa is 2 kPa, 0.2039 m of water; the sensor hangs 0.12 m under the crest
    path = tmp_path / "absolute.csv"
    stamps = [f"2025-07-0{d} {h:02d}:00" for d in range(1, 5) for h in range(24)]
    rows = "".join(f"{stamp},103.2,1012.0\n" for stamp in stamps)
    path.write_text("Time,Pressure,Baro (hPa)\n" + rows)
    look = run.invoke(cli, ["import-log", "TANSY", str(path), "--yes"])
    assert look.exit_code == 2
    assert "--answer sensor_above_crest_m=METRES" in look.stdout
    assert "--answer 'unit of column 2=kPa" in look.stdout
    asked = ["--answer", "unit of column 2=kPa", "--answer", "sensor_above_crest_m=-0.12"]
    wrong = run.invoke(cli, ["import-log", "TANSY", str(path), "--yes", *asked, "--reads", "staff"])
    assert wrong.exit_code == 2
    assert "added twice" in wrong.output
    done = said("import-log", "TANSY", str(path), "--yes", "--json", *asked)
    assert (done["state"], done["new"]) == ("imported", 96)
    series = run.invoke(cli, ["export-series", "TANSY"]).stdout
    heads = [float(row["head_m"]) for row in csv.DictReader(io.StringIO(series))]
    assert heads == pytest.approx([2000.0 / 9806.65 - 0.12] * 96)
    later = tmp_path / "later.csv"
    later.write_text(path.read_text().replace("2025-07", "2025-08"))
    again = run.invoke(cli, ["import-log", "TANSY", str(later)])
    assert "sensor_above_crest_m: -0.12 (answered for this logger before)" in again.stdout


def test_takes_prints_amounts_as_people_write_them(bench: Bench, file: Path) -> None:
    assert run.invoke(cli, ["import-log", "TANSY", str(file), "--yes"]).exit_code == 0
    form = {"kind": "season", "amount": "2 400 000", "valid_from": "2020-01-01"}
    take_limits.add_limit(bench.session, bench.id, form, bench.person, NOW)
    bench.session.commit()
    said = run.invoke(cli, ["takes", "TANSY"]).stdout
    assert "2\u202f400\u202f000 m3" in said
    assert "e+0" not in said
