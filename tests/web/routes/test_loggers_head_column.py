"""Which column is the head: shown with what each would mean, answered, kept for the next file."""

from collections.abc import Callable
from random import Random

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.errors import BadInput
from app.records.sites import Structure
from app.services.loggers.asking.answers import answers_of, put
from tests.builders.logger_exports import EXPORTS
from tests.builders.web_record_files import HTML, seen_of, uploaded
from tests.web.office_form import form_of, options_of


@pytest.fixture
def structure(a_site: Callable[..., Structure], session: Session) -> Structure:
    built = a_site()
    session.commit()
    return built


def test_columns_that_could_be_the_head_are_shown_and_the_answer_read(
    as_office: TestClient, structure: Structure
) -> None:
    made = EXPORTS["blocks_then_bare_rows"](Random("blocks_then_bare_rows 0"))
    path = uploaded(as_office, structure.site_id, made.raw, "export.txt")
    page = as_office.get(path, headers=HTML).text
    assert "Columns that could be the head" in page
    assert "not vented" in page
    assert "or a temperature" in page
    assert 'name="head_column"' in page
    assert "head not known yet" in page
    assert "data-go" not in page
    told = {"head_column": "3"}
    page = as_office.get(path, params=told, headers=HTML).text
    assert "What column 3 measures" in page
    assert 'name="column_3"' in page
    assert 'name="unit_3"' in page
    told |= {"column_3": "pressure, vented", "unit_3": "cmH2O", "sensor_above_crest_m": "-0.1"}
    told |= {"logger": "new", "name": "Bench", "structure_id": str(structure.id), "reads": "crest"}
    page = as_office.get(path, params=told, headers=HTML).text
    assert "data-go" in page
    answer = as_office.post(path, data={**told, "seen": seen_of(page)}, headers=HTML)
    assert f"{made.t_s.size} new readings" in answer.text


def test_a_file_that_nobody_can_read_offers_the_column_of_the_time(
    as_office: TestClient, structure: Structure
) -> None:
    path = uploaded(as_office, structure.site_id, b"a,b\nc,d\n", "words.txt")
    page = as_office.get(path, headers=HTML).text
    assert 'name="time_column"' in page
    told = as_office.get(path, params={"time_column": "2"}, headers=HTML)
    assert "no time was found in the column" in told.text


def test_what_a_column_was_told_to_measure_is_shown_as_such_for_the_next_file(
    as_office: TestClient, structure: Structure
) -> None:
    def rows(month: int) -> bytes:
        stamps = (f"2025-{month:02d}-{d:02d} {h:02d}:00" for d in range(13, 20) for h in range(24))
        return "".join(f"{t},251,11.5\n" for t in stamps).encode()

    path = uploaded(as_office, structure.site_id, rows(3))
    form = form_of(as_office.get(path, headers=HTML).text) | {"head_column": "2"}
    form = form_of(as_office.get(path, params=form, headers=HTML).text)
    form |= {"column_2": "head", "unit_2": "mm", "logger": "new", "name": "Bare"}
    form = form_of(as_office.get(path, params=form, headers=HTML).text)
    assert (form["head_column"], form["column_2"], form["unit_2"]) == ("2", "head", "mm")
    assert "new readings" in as_office.post(path, data=form, headers=HTML).text
    path = uploaded(as_office, structure.site_id, rows(4), "later.csv")
    text = as_office.get(path, headers=HTML).text
    assert "data-go" in text
    assert "column 2, as before" in text  # which column is the head
    assert "mm, as before" in text
    moved = as_office.get(path, params=form_of(text) | {"head_column": "3"}, headers=HTML).text
    assert "What column 3 measures" in moved  # what was told of column 2 is not taken over
    assert "data-go" not in moved
    form = form_of(moved) | {"column_3": "pressure, vented", "unit_3": "cmH2O"}
    text = as_office.get(path, params=form, headers=HTML).text
    form = form_of(text)
    assert (form["head_column"], form["column_3"]) == ("3", "pressure, vented")
    assert options_of(text, "head_column") == ["", "2", "3"]  # it can still be changed
    back = as_office.get(path, params=form | {"head_column": "2"}, headers=HTML).text
    assert "What column 2 measures" in back


def test_the_column_of_the_head_is_one_answer_however_it_was_asked() -> None:
    for key in ("columns", "head_column"):
        for said in ("3", 3, "column 3 (Level) is the head"):
            answers: dict[str, object] = {}
            put(answers, key, said)
            assert answers == {"head_column": "3"}
    assert answers_of({"columns": "3"}) == answers_of({"head_column": "3"}) == {"head_column": "3"}
    scaled: dict[str, object] = {}
    put(scaled, "scale of column 2", {"zero": 0.1, "per_unit": 0.001})
    assert scaled == {"columns": {"2": {"unit": "scaled", "zero": 0.1, "per_unit": 0.001}}}
    for wrong in ("which", {"2": "head"}, ["2"]):
        with pytest.raises(BadInput, match="columns"):
            put({}, "columns", wrong)
