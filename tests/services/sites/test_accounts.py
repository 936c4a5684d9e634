"""People, passwords and sign-ins."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from sqlmodel import Session, select

from app.errors import BadInput
from app.records.people import Person, SignIn
from app.services.sites import accounts
from tests.conftest import PASSWORD, TRUE_HASHER

NOW = datetime(2026, 11, 25, tzinfo=UTC)


def test_only_a_hash_of_password_and_token_is_kept(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cost by the OWASP Password Storage Cheat Sheet (from memory): argon2id, 19 MiB, 2 passes."""
    monkeypatch.setattr(accounts, "HASHER", TRUE_HASHER)
    person = accounts.add_person(session, "Ines", "crew", PASSWORD)
    session.commit()
    assert PASSWORD not in person.password_hash
    assert person.password_hash.startswith("$argon2id$v=19$m=19456,t=2,p=1$")
    token = accounts.sign_in(session, "Ines", PASSWORD, "127.0.0.1", NOW)
    kept = session.exec(select(SignIn)).one()
    assert token not in kept.token_hash
    found = accounts.person_of(session, token, NOW)
    assert found is not None
    assert found[0].name == "Ines"


def test_a_sign_in_ends_after_thirty_idle_days_and_use_renews_it(
    session: Session, a_person: Callable[..., Person]
) -> None:
    a_person()
    token = accounts.sign_in(session, "Ines", PASSWORD, "", NOW)
    later = NOW + timedelta(days=29)
    found = accounts.person_of(session, token, later)
    assert found is not None
    assert found[1], "due for renewal"
    accounts.renew(session, token, later)
    assert accounts.person_of(session, token, NOW + timedelta(days=58)) is not None
    assert accounts.person_of(session, token, NOW + timedelta(days=60)) is None


def test_throttle_counts_by_name_and_address_and_ends_by_itself(
    session: Session, a_person: Callable[..., Person]
) -> None:
    a_person()
    for _ in range(accounts.FAILURES_ALLOWED):
        with pytest.raises(BadInput, match="do not belong together"):
            accounts.sign_in(session, "Ines", "wrong", "10.0.0.1", NOW)
    with pytest.raises(accounts.TooManyAttempts) as caught:
        accounts.sign_in(session, "Ines", PASSWORD, "10.0.0.1", NOW + timedelta(seconds=60))
    assert caught.value.wait_s == 240
    assert accounts.sign_in(session, "Ines", PASSWORD, "10.0.0.2", NOW)
    assert accounts.sign_in(session, "Ines", PASSWORD, "10.0.0.1", NOW + timedelta(minutes=6))


def test_somebody_unknown_or_inactive_is_told_the_same(
    session: Session, a_person: Callable[..., Person]
) -> None:
    person = a_person()
    person.active = False
    session.add(person)
    session.commit()
    words = []
    for name, password in (("Ines", PASSWORD), ("Nobody", PASSWORD)):
        with pytest.raises(BadInput) as caught:
            accounts.sign_in(session, name, password, "", NOW)
        words.append(caught.value.rule)
    assert words[0] == words[1]


@pytest.mark.parametrize(
    ("name", "role", "password", "field"),
    [
        ("", "crew", PASSWORD, "name"),
        ("A" * 81, "crew", PASSWORD, "name"),
        ("Ines", "king", PASSWORD, "role"),
        ("Ines", "crew", "short", "password"),
    ],
)
def test_what_will_not_do_is_named(
    session: Session, name: str, role: str, password: str, field: str
) -> None:
    with pytest.raises(BadInput) as caught:
        accounts.add_person(session, name, role, password)
    assert caught.value.field == field
    assert caught.value.remedy
