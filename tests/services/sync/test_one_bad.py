"""One entry that no table, no text and no model can hold never keeps the others from the office."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session, select

from app.records.entries import Entry, RefusedEntry
from app.records.people import Person
from app.records.sites import Structure
from app.services.entries.kinds import BODIES
from tests.conftest import a_reading, signed_in

Change = Callable[[dict[str, Any]], object]

LONE = "\ud800"  # half of a pair: JSON can carry it, UTF-8 cannot


def put(*path: str | int, value: object) -> Change:
    def change(entry: dict[str, Any]) -> object:
        inner: Any = entry
        for part in path[:-1]:
            inner = inner[part]
        inner[path[-1]] = value
        return entry

    return change


def kind(name: str, body: object) -> Change:
    return lambda entry: entry | {"kind": name, "body": body}


TIMES = {"started_at": "2024-08-01T00:00:00Z", "ended_at": "2024-08-01T00:10:00Z"}
BAD: dict[str, Change] = {
    "a lone surrogate in a note": put("body", "note", value=f"weed {LONE}"),
    "a lone surrogate in the id": put("id", value=f"{LONE}-1"),
    "a lone surrogate in the kind": put("kind", value=LONE),
    "a lone surrogate as a key": put("body", LONE, value=1),
    "a NUL": put("body", "note", value="a\0b"),
    "not a number": put("body", "staff_m", value=[float("nan")]),
    "without end": put("body", "staff_m", value=[float("inf")]),
    "a whole number of 400 digits": put("body", "staff_m", value=[10**400]),
    "a site of 30 digits": put("site_id", value=10**30),
    "a list as kind": put("kind", value=["head_reading"]),
    "an object as kind": put("kind", value={}),
    "a list as id": put("id", value=[1]),
    "a number as id": put("id", value=7),
    "true as author": put("by", value=True),
    "a list as corrected": put("corrects", value=["x"]),
    "a NUL in the corrected": put("corrects", value="\0" * 36),
    "half a character in the corrected": put("corrects", value=LONE * 36),
    "no object": lambda entry: [entry],
    "a text": lambda entry: "entry",
    "nothing": lambda entry: None,
    "a method that is a list": kind("check_gauging", {**TIMES, "observed": {"method": []}}),
    "a method that is an object": kind("check_gauging", {**TIMES, "observed": {"method": {}}}),
    "observed that is a list": kind("check_gauging", {**TIMES, "observed": []}),
    "a body that is a list": put("body", value=[]),
    "a body that is a text": put("body", value="body"),
    **{f"an empty {name}": kind(name, {}) for name in BODIES},
}


def sent(client: TestClient, *entries: object) -> tuple[int, list[dict[str, Any]]]:
    content = {"protocol": 1, "phone": "test-phone", "entries": list(entries)}
    answer = client.post(
        "/sync",
        content=json.dumps(content).encode(),  # NaN goes out as a careless program would send it
        headers={"content-type": "application/json"},
    )
    return answer.status_code, answer.json().get("receipts", [])


@pytest.fixture
def phone(app: FastAPI, a_person: Callable[..., Person]) -> tuple[TestClient, Person]:
    person = a_person("Ines", "crew")
    client = signed_in(app, "Ines")
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    return client, person


@pytest.mark.parametrize("name", BAD)
def test_the_others_of_a_batch_are_stored(
    name: str, phone: tuple[TestClient, Person], a_site: Callable[..., Structure], session: Session
) -> None:
    client, person = phone
    structure = a_site()
    good = [a_reading(structure, person), a_reading(structure, person, 0.15)]
    bad = BAD[name](a_reading(structure, person))
    status, receipts = sent(client, good[0], bad, good[1])
    assert status == 200
    assert [receipts[0]["state"], receipts[2]["state"]] == ["stored", "stored"]
    assert {good[0]["id"], good[1]["id"]} <= set(session.exec(select(Entry.id)))
    answer = receipts[1]
    if answer["state"] == "refused":
        assert answer["rule"]
        assert answer["remedy"]
        assert answer["field"]
        kept = session.exec(select(RefusedEntry)).all()
        assert len(kept) == 1, "a refused entry is kept whole"
        json.loads(kept[0].content)
    else:
        assert name.startswith("an empty"), "only an empty body may be whole enough"
    session.commit()  # on SQLite it would hold the writers up
    # and once more: the answer for the good ones stays, nothing doubles
    status, again = sent(client, good[0], bad, good[1])
    assert status == 200
    assert [again[0]["state"], again[2]["state"]] == ["already_held"] * 2


def test_a_gauging_without_heads_is_stored_and_every_page_shows_it(
    phone: tuple[TestClient, Person], app: FastAPI, a_site: Callable[..., Structure], a_person: Any
) -> None:
    client, person = phone
    structure = a_site()
    fills = [{"volume_l": "10", "time_s": str(t)} for t in (5.1, 5.0, 5.2)]
    body = {**TIMES, "heads": [], "observed": {"method": "volumetric", "fills": fills}}
    entry = a_reading(structure, person) | {"kind": "check_gauging", "body": body}
    status, [receipt] = sent(client, entry)
    assert (status, receipt["state"]) == (200, "stored")
    a_person("Rudd", "office")
    office = signed_in(app, "Rudd")
    office._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    site, flume = structure.site_id, structure.id
    for page in (
        f"/sites/{site}",
        f"/sites/{site}/readings",
        f"/sites/{site}/gaugings",
        f"/gaugings/{entry['id']}",
        f"/structures/{flume}/rating-tests",
        f"/structures/{flume}/fit",
        "/review",
        "/pack",
    ):
        assert office.get(page).status_code < 500, page


json_values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner),
    max_leaves=8,
)


@settings(
    max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    field=st.sampled_from(["id", "kind", "site_id", "by", "body", "corrects", "observed_at"]),
    value=json_values,
    name=st.sampled_from(sorted(BODIES)),
    inner=json_values,
)
def test_any_value_in_any_field_is_judged_alone(
    phone: tuple[TestClient, Person],
    a_site: Callable[..., Structure],
    session: Session,
    field: str,
    value: object,
    name: str,
    inner: object,
) -> None:
    client, person = phone
    structure = session.exec(select(Structure)).first() or a_site()
    session.commit()
    good = a_reading(structure, person)
    bad = a_reading(structure, person) | {"kind": name, "body": inner}
    bad[field] = value
    status, receipts = sent(client, bad, good)
    assert status == 200
    assert receipts[1]["state"] == "stored"
