"""POST /sync and GET /pack over HTTP."""

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import a_reading


def crew(session: Session) -> Person:
    found = session.exec(select(Person).where(Person.role == "crew")).one()
    session.commit()  # lets go of the write lock: the server writes next
    return found


def test_receipts_come_in_the_order_sent(
    as_crew: TestClient, session: Session, a_site: Callable[..., Structure]
) -> None:
    structure, person = a_site(), crew(session)
    entries = [a_reading(structure, person), {"id": "junk"}, a_reading(structure, person)]
    answer = as_crew.post("/sync", json={"protocol": 1, "phone": "p", "entries": entries})
    assert answer.status_code == 200
    content = answer.json()
    assert [r["id"] for r in content["receipts"]] == [e["id"] for e in entries]
    assert [r["state"] for r in content["receipts"]] == ["stored", "refused", "stored"]
    assert content["server_epoch"]
    assert {"field", "value", "rule", "remedy"} <= set(content["receipts"][1])


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"{",
        b"[]",
        b"null",
        b'{"protocol": 2}',
        b'{"protocol": 1, "phone": "p", "entries": {}}',
        b'{"protocol": 1, "phone": "", "entries": []}',
        b'{"protocol": 1, "phone": 7, "entries": []}',
        b'{"protocol": 1, "phone": "p", "entries": [], "sent_at": "x"}',
        b'{"protocol": 1, "phone": "p", "entries": [NaN]}',
        b'{"protocol": 1, "phone": "p", "entries": ' + b"[" * 5000 + b"]" * 5000 + b"}",
        b"\xff\xfe",
        b'{"protocol": 1, "phone": "p", "entries": ' + str([0] * 201).encode() + b"}",
    ],
)
def test_a_request_that_is_no_batch_is_named(as_crew: TestClient, body: bytes) -> None:
    answer = as_crew.post("/sync", content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (422, 200), answer.text
    if answer.status_code == 422:
        assert {"field", "value", "rule", "remedy"} == set(answer.json())


def test_signed_out_is_401_and_json(client: TestClient) -> None:
    answer = client.post("/sync", json={"protocol": 1, "phone": "p", "entries": []})
    assert answer.status_code == 401
    assert answer.json()["field"] == "session"
    assert client.get("/pack").status_code == 401


def test_pack_holds_what_the_phone_needs(
    as_crew: TestClient, session: Session, a_site: Callable[..., Structure]
) -> None:
    structure, person = a_site(zero_offset_m=-0.0005), crew(session)
    entry = a_reading(structure, person, 0.2, tail_staff_m=0.05)
    as_crew.post("/sync", json={"protocol": 1, "phone": "p", "entries": [entry]})
    answer = as_crew.get("/pack")
    content = answer.json()
    assert content["person"]["id"] == person.id
    [site] = content["sites"]
    [drawn] = site["structures"]
    assert drawn["gauge_zeros"][0]["offset_m"] == pytest.approx(-0.0005)
    table = drawn["ratings"][0]["table"]
    assert len(table["heads_m"]) >= 256
    assert len(table["discharge_m3s"]) == len(table["heads_m"])
    assert table["hash"]
    assert site["recent"][0]["id"] == entry["id"]
    assert content["instruments"] == []
    assert content["made_with"]["level_run"] == ["level", "other"]  # which kinds are offered first
    again = as_crew.get("/pack", headers={"if-none-match": answer.headers["etag"]})
    assert again.status_code == 304


def test_no_secret_travels_in_the_pack(
    as_crew: TestClient, a_site: Callable[..., Structure]
) -> None:
    a_site()
    assert "argon2" not in as_crew.get("/pack").text
