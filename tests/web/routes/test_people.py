"""The steward's pages of people, and one's own password, as people use them."""

from collections.abc import Callable

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import PASSWORD, a_reading, signed_in

HTML = {"accept": "text/html"}
NEW = "another long password"


def test_a_steward_changes_role_name_and_password_and_the_trail_says_so(
    app: FastAPI, as_steward: TestClient, a_person: Callable[..., Person]
) -> None:
    other = a_person("Ines", "crew")
    base = f"/people/{other.id}"
    phone = signed_in(app, "Ines")
    for path, form in (
        ("role", {"role": "office"}),
        ("name", {"name": "Ines Rudd"}),
        ("password", {"password": NEW}),
        ("retire", {"reason": "left in March"}),
        ("restore", {"reason": ""}),
    ):
        answer = as_steward.post(f"{base}/{path}", data=form, headers=HTML)
        assert answer.status_code == 303, answer.text
        assert answer.headers["location"] == base
    assert phone.get("/pack").status_code == 401
    text = as_steward.get(base, headers=HTML).text
    for said in (
        "Steward One made Ines Rudd office, before crew",
        "Steward One named a person Ines Rudd, before Ines",
        "Steward One set a new password for Ines Rudd",
        "Steward One retired Ines Rudd: all sign-ins ended (left in March)",
        "Steward One took Ines Rudd back: may sign in again",
    ):
        assert said in text
    assert NEW not in text


def test_a_fault_stands_beside_its_box_and_no_password_comes_back(
    as_steward: TestClient, a_person: Callable[..., Person]
) -> None:
    other = a_person("Ines", "crew")
    typed = {"name": "", "role": "king", "password": "short"}
    text = as_steward.post("/people", data=typed, headers=HTML)
    assert text.status_code == 422
    for box in ("name", "role", "password"):
        assert f'id="{box}-wrong"' in text.text
    assert "short" not in text.text
    answer = as_steward.post(f"/people/{other.id}/password", data=typed, headers=HTML)
    assert 'id="password-wrong"' in answer.text
    assert '"short"' not in answer.text


@pytest.mark.parametrize("role", ["crew", "office", "steward"])
def test_everybody_changes_their_own_password_and_stays_signed_in_here(
    app: FastAPI, a_person: Callable[..., Person], role: str
) -> None:
    a_person("Ines", role)
    here, phone = signed_in(app, "Ines"), signed_in(app, "Ines")
    wrong = {"present": "not it at all", "password": "short", "again": "other"}
    answer = here.post("/own-password", data=wrong, headers=HTML)
    assert answer.status_code == 422
    for box in wrong:
        assert f'id="{box}-wrong"' in answer.text
    typed = {"present": PASSWORD, "password": NEW, "again": NEW}
    answer = here.post("/own-password", data=typed, headers=HTML)
    assert answer.status_code == 303
    assert "holds from now on" in here.get(answer.headers["location"], headers=HTML).text
    assert phone.get("/pack").status_code == 401


def test_wrong_old_passwords_are_throttled(app: FastAPI, a_person: Callable[..., Person]) -> None:
    a_person("Ines", "crew")
    here = signed_in(app, "Ines")
    typed = {"present": "not it at all", "password": NEW, "again": NEW}
    for _ in range(5):
        assert here.post("/own-password", data=typed, headers=HTML).status_code == 422
    answer = here.post("/own-password", data=typed | {"present": PASSWORD}, headers=HTML)
    assert answer.status_code == 429
    assert int(answer.headers["retry-after"]) > 0


def test_what_waits_on_the_phone_of_a_retired_person_goes_out_when_they_are_taken_back(
    app: FastAPI,
    session: Session,
    as_steward: TestClient,
    a_person: Callable[..., Person],
    a_site: Callable[..., Structure],
) -> None:
    ines, structure = a_person("Ines", "crew"), a_site()
    reading = a_reading(structure, ines)
    body = {"protocol": 1, "phone": "p", "sent_at": None, "entries": [reading]}
    phone = signed_in(app, "Ines")
    as_steward.post(f"/people/{ines.id}/retire")
    assert phone.post("/sync", json=body).status_code == 401
    as_steward.post(f"/people/{ines.id}/restore")
    receipts = signed_in(app, "Ines").post("/sync", json=body).json()["receipts"]
    assert [one["state"] for one in receipts] == ["stored"]
