"""Access tokens: made and shown once, used as RFC 6750 says, ended in every way they can end.

RFC 6750 (from memory): a request with a token that does not hold gets 401 with WWW-Authenticate:
Bearer and error="invalid_token"; one that reaches too far 403 and error="insufficient_scope".
"""

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
import sqlalchemy as sa
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.records.database import utc_now
from app.records.people import AccessToken, Person
from app.records.sites import Structure
from tests.conftest import a_reading, signed_in

HTML = {"accept": "text/html"}


def made(client: TestClient, scope: str = "read", name: str = "office script") -> str:
    form = {"name": name, "scope": scope, "days": "30"}
    answer = client.post("/tokens", data=form, headers=HTML)
    assert answer.status_code == 200, answer.text
    found = re.search(r'value="(sillbook_[\w-]{43})"', answer.text)
    assert found, answer.text
    return found[1]


def shown(token: str) -> dict[str, str]:
    return {"authorization": f"Bearer {token}"}


@pytest.fixture
def ines(app: FastAPI, a_person: Callable[..., Person], a_site: Callable[..., Structure]):
    a_site()
    a_person("Ines", "crew")
    return signed_in(app, "Ines")


def test_a_token_is_shown_once_and_opens_every_list(
    ines: TestClient, client: TestClient, session: Session
) -> None:
    token = made(ines)
    assert token not in ines.get("/tokens", headers=HTML).text
    for path in ("/sites.json", "/sites.csv", "/sites.csv-metadata.json", "/sites/1/readings.csv"):
        assert client.get(path).status_code == 401
        answer = client.get(path, headers=shown(token))
        assert answer.status_code == 200, (path, answer.text)
        assert answer.content == ines.get(path).content
    listed = ines.get("/tokens.json").json()["rows"]
    assert [row["name"] for row in listed] == ["office script"]
    assert listed[0]["used_at"] is not None
    assert token not in str(session.exec(select(AccessToken)).one().model_dump())


def test_a_token_opens_no_page_and_reaches_no_further_than_its_scope_and_role(
    ines: TestClient, client: TestClient
) -> None:
    reads, writes = made(ines), made(ines, "write", "gate logger")
    for path in ("/sites", "/tokens", "/pack"):
        answer = client.get(path, headers=shown(writes) | HTML)
        assert answer.status_code == 403, path
        assert answer.json()["rule"].startswith("a token opens lists")
        assert 'error="insufficient_scope"' in answer.headers["www-authenticate"]
    assert client.get("/people.json", headers=shown(writes)).json()["field"] == "role"
    refused = client.post("/sync", json={}, headers=shown(reads))
    assert (refused.status_code, refused.json()["rule"]) == (403, "this token may only read")
    made_with_it = client.post("/tokens", data={"name": "x"}, headers=shown(writes))
    assert made_with_it.status_code == 403


def test_what_a_token_sends_is_stored_once_in_its_person_s_name(
    ines: TestClient, client: TestClient, session: Session
) -> None:
    token = made(ines, "write")
    structure = session.exec(select(Structure)).one()
    person = session.exec(select(Person).where(Person.name == "Ines")).one()
    batch = {"protocol": 1, "phone": "script", "entries": [a_reading(structure, person)]}
    session.rollback()
    states = [
        client.post("/sync", json=batch, headers=shown(token)).json()["receipts"][0]["state"]
        for _ in range(2)
    ]
    assert states == ["stored", "already_held"]


@pytest.mark.parametrize("how", ["revoked", "ended", "retired", "password", "mistyped", "empty"])
def test_a_token_ends_in_every_way_it_can(
    app: FastAPI, ines: TestClient, client: TestClient, a_person: Callable[..., Person],
    session: Session, how: str,
) -> None:  # fmt: skip
    token = made(ines)
    assert client.get("/sites.json", headers=shown(token)).status_code == 200
    a_person("Keeper", "steward")
    keeper = signed_in(app, "Keeper")
    one = session.exec(select(AccessToken)).one()
    person, revoking = f"/people/{one.person_id}", f"/tokens/{one.id}/revoke"
    session.rollback()
    if how == "revoked":
        assert "Revoke office script" in keeper.get(person, headers=HTML).text
        answer = keeper.post(revoking, headers=HTML)
        assert answer.headers["location"] == person
        assert "revoked the access token office script" in keeper.get("/audit", headers=HTML).text
    elif how == "ended":
        past = sa.update(AccessToken).values(expires_at=utc_now() - timedelta(seconds=1))
        session.execute(past)
        session.commit()
    elif how == "retired":
        keeper.post(f"{person}/retire", data={"reason": ""}, headers=HTML)
        keeper.post(f"{person}/restore", data={"reason": ""}, headers=HTML)
    elif how == "password":
        keeper.post(f"{person}/password", data={"password": "another long one"}, headers=HTML)
    sent = {"mistyped": token[:-1], "empty": ""}.get(how, token)
    answer = client.get("/sites.json", headers=shown(sent))
    assert answer.status_code == 401
    assert 'error="invalid_token"' in answer.headers["www-authenticate"]
    assert set(answer.json()) == {"field", "value", "rule", "remedy"}
    assert token not in answer.text


def test_a_dead_token_beside_a_sign_in_is_refused_not_passed_over(ines: TestClient) -> None:
    """A script that carries a browser's cookie must not go on with it unseen."""
    assert ines.get("/sites.json").json()["name"] == "sites"
    assert ines.get("/sites.json", headers=shown("sillbook_none")).json()["field"] == "token"
    assert ines.get("/sites.json", headers={"authorization": "Basic eA=="}).status_code == 200


def test_only_its_person_or_a_steward_revokes_a_token(
    app: FastAPI, ines: TestClient, a_person: Callable[..., Person], session: Session
) -> None:
    made(ines)
    a_person("Otto", "office")
    one = session.exec(select(AccessToken)).one()
    path = f"/tokens/{one.id}/revoke"
    session.rollback()
    assert signed_in(app, "Otto").post(path, headers=HTML).status_code == 403
    assert ines.post("/tokens/999/revoke", headers=HTML).status_code == 404
    assert [ines.post(path, headers=HTML).headers["location"] for _ in range(2)] == ["/tokens"] * 2
    session.expire_all()
    ended = session.exec(select(AccessToken).where(col(AccessToken.revoked_at).is_not(None))).all()
    assert len(ended) == 1


def test_every_fault_of_the_form_stands_beside_its_box(ines: TestClient) -> None:
    typed = {"name": "", "scope": "all", "days": "400"}
    text = ines.post("/tokens", data=typed, headers=HTML).text
    for box in ("name", "scope", "days"):
        assert f'id="{box}-wrong"' in text
    made(ines)
    twice = ines.post("/tokens", data={"name": "office script", "scope": "read", "days": "1"})
    assert twice.status_code == 422
