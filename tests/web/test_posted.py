"""One posted form: kept or taken back whole, figures and fault shown, JSON for a program."""

from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.errors import BadInput
from app.language import forms
from app.records.people import Person
from app.records.sites import Site
from tests.conftest import PASSWORD

HTML = {"accept": "text/html"}
JSON = {"accept": "application/json"}
SITE = {
    "name": "Upper race (invented)",
    "code": "UP-1",
    "utc_offset": "+12:00",
    "head_unit": "mm",
    "latitude": "",
    "longitude": "",
    "hazards": "",
    "notes": "",
}


def test_what_is_refused_comes_back_as_typed_and_nothing_is_kept(
    as_office: TestClient, session: Session
) -> None:
    answer = as_office.post("/sites", data=SITE | {"utc_offset": "ninety"}, headers=HTML)
    assert answer.status_code == 422
    assert 'id="utc_offset-wrong"' in answer.text
    assert "Upper race (invented)" in answer.text
    assert session.exec(select(Site).where(Site.code == "UP-1")).first() is None


def test_what_is_kept_goes_on_to_its_page(as_office: TestClient, session: Session) -> None:
    answer = as_office.post("/sites", data=SITE, headers=HTML)
    site = session.exec(select(Site).where(Site.code == "UP-1")).one()
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/sites/{site.id}"
    assert SITE["name"] in as_office.get(answer.headers["location"]).text


def test_a_program_is_answered_in_json(as_office: TestClient) -> None:
    answer = as_office.post("/sites", data=SITE | {"utc_offset": "ninety"}, headers=JSON)
    assert answer.status_code == 422
    said = answer.json()
    assert (said["field"], said["value"]) == ("utc_offset", "ninety")
    assert said["rule"]
    assert said["remedy"]


@pytest.mark.parametrize("headers", [HTML, JSON])
def test_too_many_attempts_say_when_to_try_again(
    client: TestClient, a_person: Callable[..., Person], headers: dict[str, str]
) -> None:
    a_person("crew", "crew")
    wrong = {"name": "crew", "password": "not " + PASSWORD}
    for _ in range(5):
        assert client.post("/sign-in", data=wrong, headers=headers).status_code == 422
    answer = client.post("/sign-in", data=wrong, headers=headers)
    assert answer.status_code == 429
    assert int(answer.headers["retry-after"]) > 0


def test_a_box_that_is_not_sent_is_off_and_other_words_are_refused(
    as_steward: TestClient, a_person: Callable[..., Person], session: Session
) -> None:
    other = a_person("other", "crew")
    path, data = f"/people/{other.id}", {"role": "crew", "password": ""}

    def active() -> bool:
        session.expire_all()
        found = session.get(Person, other.id)
        assert found is not None
        said = found.active
        session.rollback()
        return said

    assert as_steward.post(path, data=data | {"active": "perhaps"}).status_code == 422
    assert active()
    assert as_steward.post(path, data=data).status_code == 303
    assert not active()
    assert as_steward.post(path, data=data | {"active": "true"}).status_code == 303
    assert active()


@pytest.mark.parametrize(
    ("typed", "said"), [("yes", True), ("TRUE", True), ("on", True), ("0", False), ("", False)]
)
def test_ticked(typed: str, said: bool) -> None:
    assert forms.ticked({"box": typed}, "box") is said
    assert forms.ticked({}, "box") is False


def test_ticked_refuses_what_is_neither() -> None:
    with pytest.raises(BadInput, match="ticked or not"):
        forms.ticked({"box": "maybe"}, "box")
