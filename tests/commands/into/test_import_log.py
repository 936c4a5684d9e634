"""`sillbook import-log` with files that ask: refused with the question and the option for it."""

import json
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest
from sqlmodel import Session, col, select
from typer.testing import CliRunner

from app.cli import cli
from app.records.people import Person
from app.records.sensors import Logger, LoggerImport
from app.records.sites import Structure
from tests.builders.logger_exports import EXPORTS
from tests.builders.record_files import Bench, a_bench
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


def imports(bench: Bench) -> int:
    count = len(bench.session.exec(select(LoggerImport)).all())
    bench.session.rollback()  # the command has its own session, and SQLite one writer
    return count


# every question the exports raise, and the options that a person then types
ANSWERED = [
    (
        "blocks_then_bare_rows",
        "--answer head_column=3|4",
        [
            *("--answer", "head_column=3", "--as-column", "3=pressure, vented:cmH2O"),
            *("--answer", "sensor_above_crest_m=-0.1"),
        ],
    ),
    ("two_levels", "--answer head_column=2|3", ["--answer", "head_column=3"]),
    ("unit_in_prose_only", "--as-column 2=MEANING:", ["--as-column", "2=head:cm"]),
    ("no_header_at_all", "--as-column '2=head|", ["--as-column", "2=head:mm"]),
    (
        "days_up_to_twelve",
        "--answer 'date_order=day first|month first'",
        ["--answer", "date_order=day first"],
    ),
    (
        "two_times_one_of_arrival",
        "--answer time_column=1|2",
        ["--answer", "time_column=2"],
    ),
    (
        "marks_that_never_meet_on_a_date",
        "--answer 'afternoon_mark=zs|kv'",
        ["--answer", "afternoon_mark=zs"],
    ),
    (
        "level_over_a_datum",
        "--answer datum_above_crest_m=METRES",
        ["--answer", "datum_above_crest_m=-99.2235"],
    ),
    (
        "current_loop_only",
        "scaled",
        [
            "--answer",
            'columns={"2": {"meaning": "head", "unit": "scaled", "zero": -0.25, '
            '"per_unit": 0.0625}}',
        ],
    ),
]


@pytest.mark.parametrize(("name", "option", "answers"), ANSWERED)
def test_a_file_that_asks_is_refused_with_the_option_that_answers(
    bench: Bench, tmp_path: Path, name: str, option: str, answers: list[str]
) -> None:
    made = EXPORTS[name](Random(f"{name} 0"))
    path = tmp_path / "export.csv"
    path.write_bytes(made.raw)
    asked = run.invoke(cli, ["import-log", "TANSY", str(path), "--yes"])
    assert asked.exit_code == 2, asked.output
    for key in made.asks:
        assert f"{key} is not certain" in asked.stderr
    assert option in asked.stderr
    plain = run.invoke(cli, ["import-log", "TANSY", str(path), "--yes", "--json"])
    assert plain.exit_code == 2
    assert made.asks[0] in plain.output
    assert imports(bench) == 0
    words = ["import-log", "TANSY", str(path), "--yes", "--json", *answers]
    done = run.invoke(cli, words)
    assert done.exit_code == 0, done.output
    assert json.loads(done.stdout)["new"] == made.t_s.size
    assert imports(bench) == 1


def test_candidates_are_shown_with_what_they_would_mean(bench: Bench, tmp_path: Path) -> None:
    made = EXPORTS["blocks_then_bare_rows"](Random("blocks_then_bare_rows 0"))
    path = tmp_path / "export.csv"
    path.write_bytes(made.raw)
    seen = run.invoke(cli, ["import-log", "TANSY", str(path)])
    assert seen.exit_code == 2
    assert " ? column 3: " in seen.stdout
    assert "not vented" in seen.stdout
    assert "or a temperature" in seen.stdout
    assert "head not known yet" in seen.stdout


def test_two_loggers_of_one_kind_keep_two_identities(bench: Bench, tmp_path: Path) -> None:
    answers = ["--answer", "head_column=3", "--as-column", "3=pressure, vented:cmH2O"]
    answers += ["--answer", "sensor_above_crest_m=-0.1"]
    for number in (2040, 2041):
        made = EXPORTS["blocks_then_bare_rows"](Random(f"logger {number}"))
        path = tmp_path / f"{number}.txt"
        path.write_bytes(made.raw.replace(b"K11-A2040", f"K11-A{number}".encode()))
        first = run.invoke(cli, ["import-log", "TANSY", str(path), "--yes"])
        assert first.exit_code == 2  # what the other one was told is not taken over
        done = run.invoke(cli, ["import-log", "TANSY", str(path), "--yes", *answers])
        assert done.exit_code == 0, done.output
    serials = bench.session.exec(select(Logger.serial).order_by(col(Logger.serial))).all()
    bench.session.rollback()
    assert serials == ["K11-A2040", "K11-A2041"]
    # the first one is known again, and its answers with it
    made = EXPORTS["blocks_then_bare_rows"](Random("logger 2040, later"))
    path = tmp_path / "later.txt"
    path.write_bytes(made.raw)
    again = run.invoke(cli, ["import-log", "TANSY", str(path), "--yes", "--json"])
    assert again.exit_code == 0, again.output


def test_a_unit_is_offered_once_and_a_wrong_meaning_is_refused_as_such(
    bench: Bench, tmp_path: Path
) -> None:
    made = EXPORTS["blocks_then_bare_rows"](Random("blocks_then_bare_rows 0"))
    path = tmp_path / "export.csv"
    path.write_bytes(made.raw)
    words = ["import-log", "TANSY", str(path), "--answer", "head_column=3"]
    asked = run.invoke(cli, words)
    line = next(part for part in asked.output.split("--answer '") if part.startswith("unit of"))
    units = line.split("'")[0].split("=")[1].split("|")
    assert len(units) == len(set(units))
    assert {"cmH2O", "hPa", "mm"} <= set(units)
    wrong = run.invoke(cli, [*words, "--as-column", "3=absolute:cmH2O"])
    assert "is no meaning of a column" in wrong.output
