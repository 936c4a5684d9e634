"""Any order of arrival gives the same standing set, through sync: graphs of readings by chance.

Two of the crew and the office name entries of each other, also of each other's corrections: whether
a link is permitted is decided when it is looked at, so that nothing hangs on what was here first.
"""

import uuid
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session

from app.records.database import migrate, open_engine
from app.records.people import Person
from app.records.sites import Structure
from app.services.readings import list as readings
from app.services.upkeep import backup
from tests.builders.survey_entries import an_entry
from tests.conftest import a_reading, send

IDS = "abcdef"
NUMBERS = count()
OPEN = readings.span_of("", "", 720)


@pytest.fixture
def database_url(tmp_path: Path) -> str:
    return f"sqlite:///{tmp_path / 'test.sqlite3'}"


@pytest.fixture
def engine(database_url: str) -> Iterator[object]:
    migrate(database_url)
    engine = open_engine(database_url)
    backup.ensure_epoch(engine)
    yield engine
    engine.dispose()


ROWS = st.fixed_dictionaries(
    {
        one: st.tuples(
            st.sampled_from(["head_reading", "head_reading", "withdrawal"]),
            st.sampled_from(["crew", "crew", "mate", "office"]),
            st.sampled_from([None, *IDS]),
            st.sampled_from([0, 0, 0, 1]),
        )
        for one in IDS
    }
)


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(rows=ROWS, orders=st.tuples(*(st.permutations(IDS) for _ in range(2))))
def test_any_order_of_arrival_gives_the_same_standing_set(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    rows: dict[str, tuple[str, str, str | None, int]],
    orders: tuple[list[str], list[str]],
) -> None:
    found = []
    for order in orders:
        n = next(NUMBERS)
        places = [a_site(f"H{n}"), a_site(f"T{n}")]
        people = {
            "crew": a_person(f"Ines {n}"),
            "mate": a_person(f"Odo {n}"),
            "office": a_person(f"Una {n}", "office"),
        }
        ids = {one: str(uuid.UUID(int=((n + 1) << 40) + ord(one))) for one in IDS}
        for one in order:
            kind, who, named, place = rows[one]
            if named == one or (named is None and kind == "withdrawal"):
                continue
            link = {"corrects": ids.get(named or ""), "reason": "by chance", "id": ids[one]}
            person, structure = people[who], places[place]
            entry = (
                a_reading(structure, person, **link)
                if kind == "head_reading"
                else an_entry("withdrawal", structure, person, {}, **link)
            )
            first = send(session, person, entry)[0].state
            again = send(session, person, entry)[0].state
            assert (first, again) == ("stored", "already_held")
        names = {key: one for one, key in ids.items()}
        stand = [r["id"] for p in places for r in readings.standing(session, p.site_id, OPEN)]
        found.append(sorted(names[key] for key in stand))
    assert found[0] == found[1]


def test_a_correction_of_what_crew_may_not_correct_comes_to_the_same_in_both_orders(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    """Odo corrects Ines's correction of Una's reading: neither counts, whichever came first."""
    found = []
    for n, order in enumerate(("abc", "bac", "cba")):
        place = a_site(f"H{n}")
        una, ines, odo = (a_person(f"{name} {n}") for name in ("Una", "Ines", "Odo"))
        ids = {one: str(uuid.UUID(int=((n + 1) << 80) + ord(one))) for one in "abc"}
        made = {
            "a": (una, {}),
            "b": (ines, {"corrects": ids["a"], "reason": "misread"}),
            "c": (odo, {"corrects": ids["b"], "reason": "misread"}),
        }
        for one in order:
            person, link = made[one]
            receipt = send(session, person, a_reading(place, person, id=ids[one], **link))[0]
            assert receipt.state == "stored", "never lost, whether it counts or not"
        stand = readings.standing(session, place.site_id, OPEN)
        found.append([one for one, key in ids.items() if key in {row["id"] for row in stand}])
    assert found == [["a"], ["a"], ["a"]]
