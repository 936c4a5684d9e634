"""Invented exports of every misleading trait: each imports right or asks the right question.

The truth of an export is what its maker wrote (`logger_exports`), known without the reader.
`python -m tests.services.loggers.test_exports` prints the table of outcomes.
"""

import sys
from random import Random

import numpy as np
import pytest

from app.errors import BadInput
from app.services.loggers.read import LoggerFile, read_logger_file
from app.services.loggers.reader.header import serial_in
from tests.builders.logger_exports import EXPORTS, SITE_MIN, Export

SEEDS = range(3)
# how the sensor hangs may be asked of any pressure
ALWAYS_RIGHT = {"sensor_above_crest_m"}


def read(made: Export, answers: dict[str, object] | None = None) -> LoggerFile:
    return read_logger_file(made.raw, utc_offset_min=SITE_MIN, answers=answers)


def asked(file: LoggerFile) -> set[str]:
    return {question.key for question in file.questions} - ALWAYS_RIGHT


def test_there_are_forty_and_more() -> None:
    assert len(EXPORTS) >= 40


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("name", EXPORTS)
def test_an_export_imports_right_or_asks_the_right_question(name: str, seed: int) -> None:
    made = EXPORTS[name](Random(f"{name} {seed}"))
    if made.refused:
        with pytest.raises(BadInput, match=made.refused) as refused:
            read(made).ready()
        assert refused.value.remedy
        return
    file = read(made)
    assert asked(file) == set(made.asks)
    assert file.serial == made.serial
    answered = read(made, made.answers)
    if made.stuck:
        assert asked(answered) == set(made.asks)
        return
    answered.ready()
    assert np.array_equal(answered.t_s, np.sort(made.t_s))
    order = np.argsort(made.t_s)
    assert answered.head_m == pytest.approx(made.head_m[order], abs=1e-9, nan_ok=True)
    assert answered.problem_count == made.problems
    # what was answered is remembered: the next file of this logger asks nothing
    again = read(made, answered.choices).ready()
    assert again.head_m.tobytes() == answered.head_m.tobytes()
    assert again.t_s.tobytes() == answered.t_s.tobytes()
    assert any(row.head_m is not None for row in answered.first)


# -- the question which column is the head ---------------------------------------------------


def of(name: str, seed: int = 0) -> Export:
    return EXPORTS[name](Random(f"{name} {seed}"))


def test_each_candidate_shows_values_range_and_meaning() -> None:
    file = read(of("blocks_then_bare_rows"))
    pressure, temperature = file.candidates
    assert (pressure.column, temperature.column) == (3, 4)
    assert len(pressure.first) == 3
    assert pressure.low == pytest.approx(min(float(t) for t in pressure.first), abs=20)
    assert pressure.low <= float(pressure.first[0]) <= pressure.high
    assert any("cmH2O" in means and "not vented" in means for means in pressure.means)
    assert any("temperature" in means for means in temperature.means)
    question = next(q for q in file.questions if q.key == "head_column")
    assert question.alternatives == ("column 4",)
    assert "which column is the head is not known yet" in file.sentence
    with pytest.raises(BadInput, match="head_column is not certain") as refused:
        file.ready()
    assert "column 4" in refused.value.remedy
    for candidate in file.candidates:
        assert candidate.words in refused.value.rule


def test_the_answer_leads_to_meaning_and_unit_with_pressures_among_them() -> None:
    made = of("blocks_then_bare_rows")
    file = read(made, {"head_column": 3})
    assert asked(file) == {"column 3", "unit of column 3"}
    unit = next(q for q in file.questions if q.key == "unit of column 3")
    assert "cmH2O" in unit.alternatives
    assert [candidate.column for candidate in file.candidates] == [3]
    assert all(row.head_m is None for row in file.first)
    # a pressure that is the weight of the air is told so when the unit is
    absolute = read(made, {"head_column": 3, "columns": {"3": {"unit": "cmH2O"}}})
    assert "columns" in asked(absolute)


@pytest.mark.parametrize("answer", [0, 1, 2, 9, "x", True, -1, 3.5, [3], "999999"])
def test_a_column_that_is_none_is_refused(answer: object) -> None:
    with pytest.raises(BadInput, match="head_column") as refused:
        read(of("blocks_then_bare_rows"), {"head_column": answer})
    assert refused.value.field.startswith("row ")


@pytest.mark.parametrize("answer", [0, 99, "x", True, -1, [3], 2])
def test_a_time_column_without_a_time_is_refused(answer: object) -> None:
    with pytest.raises(BadInput) as refused:
        read(of("time_in_the_seventh_column"), {"time_column": answer})
    assert refused.value.field.startswith("row ")
    assert refused.value.remedy


def test_a_pressure_pointed_at_stays_a_pressure() -> None:
    lines = ["Time,Pressure 1 (kPa),Pressure 2 (kPa)"]
    lines += [f"2026-11-2{d} 0{h}:00,3.0,4.0" for d in range(5) for h in range(9)]
    raw = "\n".join(lines).encode() + b"\n"
    file = read_logger_file(
        raw, utc_offset_min=720, answers={"head_column": 3, "sensor_above_crest_m": -0.1}
    ).ready()
    assert file.head_m[0] == pytest.approx(4000.0 / 9806.65 - 0.1)


def test_raw_figures_without_zero_and_span_stay_a_question() -> None:
    made = of("current_loop_only")
    file = read(made, {"columns": {"2": {"meaning": "head", "unit": "scaled"}}})
    assert asked(file) == {"scale of column 2"}
    assert next(q for q in read(made).questions).chosen == "scaled"
    assert all(row.head_m is None for row in file.first)


def test_the_preview_shows_what_was_read_while_the_head_is_open() -> None:
    file = read(of("blocks_then_bare_rows"))
    assert all(row.figure is not None for row in file.first)
    assert "head not known yet" in file.first[0].no_head
    assert file.missing == 0
    started_dry = read(of("first_rows_all_missing"))
    assert [row.head_m is None for row in started_dry.first].count(False) == 10
    assert started_dry.first[0].no_head == "missing"


def test_a_column_without_one_number_is_said_so() -> None:
    file = read(of("a_named_column_without_one_number"))
    question = next(q for q in file.questions if q.key == "head_column")
    assert "holds not one number" in question.why
    assert [c.column for c in file.candidates] == [3]


def test_a_reset_in_the_midst_of_a_record_is_one_still() -> None:
    made = of("a_record_through_the_year_2000")
    lines = made.raw.decode().splitlines()
    lines[200:200] = [f"2000-01-01 0{h}:00,0.2" for h in range(9)]
    file = read_logger_file("\n".join(lines).encode() + b"\n", utc_offset_min=SITE_MIN)
    assert "1 clock reset" in file.sentence


# -- serial numbers --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("line", "serial"),
    [
        ("    Serial number           =.K11-A2040", "K11-A2040"),
        ("    Serial number           =.K11-A2041", "K11-A2041"),
        ("Logger serial no: AB-1234", "AB-1234"),
        ("Serial Number,20417733", "20417733"),
        ('"Serial number:","20417733"', "20417733"),
        ("S/N: 99-1234", "99-1234"),
        ("SN 4471B", "4471B"),
        ("Serial #\t88213", "88213"),
        ("Seriennummer: 4471-B", "4471-B"),
        ("Serial number", None),
        ("Serial number =", None),
        ("the serial number is on the label", None),
        ("serial port COM", None),
        ("Level (LGR S/N: 111222, SEN S/N: 333444)", "111222"),
        ("Level (SEN S/N: 333444, LGR S/N: 111222)", "111222"),
    ],
)
def test_serial_numbers(line: str, serial: str | None) -> None:
    assert serial_in([line]) == serial
    assert serial_in(["Remark", line, "", "Other"]) == serial


def outcome(name: str) -> tuple[str, str]:
    """Return what the reader does with an export, and whether that is right."""
    made = of(name)
    try:
        file = read(made)
    except BadInput as error:
        return f"refused: {error.rule}", "right" if made.refused else "WRONG"
    keys = asked(file)
    if made.refused or keys != set(made.asks):
        return f"asks {sorted(keys)}" if keys else "imports", "WRONG"
    if made.stuck:
        return f"asks {sorted(keys)}", "right"
    try:
        done = read(made, made.answers).ready()
        order = np.argsort(made.t_s)
        same = np.array_equal(done.t_s, made.t_s[order])
        same = same and np.allclose(done.head_m, made.head_m[order], atol=1e-9, equal_nan=True)
    except BadInput as error:
        return f"answered, then {error.rule}", "WRONG"
    words = f"asks {', '.join(sorted(keys))}; then imports" if keys else "imports"
    return words, "right" if same else "WRONG"


if __name__ == "__main__":
    for name in EXPORTS:
        words, verdict = outcome(name)
        sys.stdout.write(f"{verdict:6} {name}: {words}\n")
