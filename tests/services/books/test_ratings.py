"""A past rating from a table: in force from its date, read back at its own heads.

The table is the published equation of the 1 ft Parshall flume at round heads (read).
"""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.errors import BadInput
from app.records.people import Person
from app.records.sites import Rating, Structure
from app.services.books.ratings import look_at_rating, table_rows, take_rating_in
from app.services.books.take_in import take_in
from tests.services.books.test_take_in import NOW, a_sheet, rows

HEADS_MM = (60, 120, 240, 480)
FLOWS_LS = [4.0 * (h / 304.8) ** 1.522 * 0.3048**3 * 1000.0 for h in HEADS_MM]
TABLE = "Head\tDischarge\n" + "\n".join(
    f"{h}\t{q:.2f}".replace(".", ",") for h, q in zip(HEADS_MM, FLOWS_LS, strict=True)
)
FORM = {
    "name": "Works book (invented)",
    "page": "7",
    "valid_from": "2020-01-01T00:00",
    "unit": "mm",
    "flow_unit": "L/s",
    "table": TABLE,
}


def test_a_table_of_a_book_rates_the_readings_of_its_time(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(rated=False), a_person("Office One", "office")
    assert flume.id is not None
    seen = look_at_rating(session, flume.id, FORM)
    assert seen.present is None
    assert [h for h, _ in seen.rows] == [0.06, 0.12, 0.24, 0.48]
    assert seen.own.discharge_m3s * 1000.0 == pytest.approx(FLOWS_LS, abs=0.006)
    assert session.exec(select(Rating)).all() == []
    for _ in range(2):  # sent twice it is there once
        take_rating_in(session, flume.id, FORM, person.id)
        session.commit()
    (rating,) = session.exec(select(Rating)).all()
    assert rating.valid_from == datetime(2019, 12, 31, 12, tzinfo=UTC)
    assert "states no uncertainty" in rating.reason
    assert rating.reason.startswith("From the book Works book (invented), page 7")
    sheet = rows({"day": "2024-08-01", "time": "7:30", "staff": "120"})
    _, answers = take_in(session, flume.id, a_sheet(), sheet, person, NOW)
    assert answers[0]["discharge_m3s"] == pytest.approx(FLOWS_LS[1] / 1000.0, abs=1e-5)
    assert answers[0]["uncertainty_pct"] > 5.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("60\t7,2\n120\tnan", "row 2, column 2"),
        ("60\t7,2\n120", "row 2: a head and a discharge"),
        ("60;7;1\n", "row 1: a head and a discharge"),
        ("60\t=A1", "row 1, column 2"),
        ("60\t1.250\n120\t2.500", "can be two figures"),
        ("-60\t7", "row 1, column 1"),
        ("\n".join(f"{k}\t{k}" for k in range(1, 300)), "at most 200"),
    ],
)
def test_a_table_that_does_not_read_is_refused_with_its_place(text: str, words: str) -> None:
    with pytest.raises(BadInput) as refused:
        table_rows(text, "mm", "L/s")
    assert words in refused.value.rule


def test_the_page_looks_takes_in_and_keeps_what_was_typed(
    as_office: TestClient, session: Session, a_site: Callable[..., Structure]
) -> None:
    flume = a_site()
    at = f"/structures/{flume.id}/books/ratings"
    assert "An old rating of Flume" in as_office.get(at).text
    looked = as_office.post(at, data={**FORM, "valid_from": "2024-08-01T00:00", "act": "look"})
    assert "By the rating of that date" in looked.text
    assert "Works book (invented)" in looked.text
    falling = as_office.post(at, data={**FORM, "table": "60 7\n120 6", "act": "take"})
    assert falling.status_code == 422
    assert "must both rise" in falling.text
    taken = as_office.post(at, data={**FORM, "act": "take"})
    assert taken.headers["location"] == f"/sites/{flume.site_id}/rate-again"
    assert len(session.exec(select(Rating)).all()) == 2
