"""Signing in and out, and the people who may."""

import hashlib
import secrets
from datetime import datetime, timedelta

import sqlalchemy as sa
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.language.forms import together
from app.records.audit import write_audit
from app.records.people import ROLES, Person, SignIn, SignInFailure

# OWASP Password Storage Cheat Sheet, argon2id at 19 MiB and two passes: fits a small server.
HASHER = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)
NOBODY = HASHER.hash(secrets.token_hex(16))  # the same work for a name that does not exist

SIGN_IN_DAYS = 30  # idle time; a phone may be without coverage for weeks
FAILURES_ALLOWED = 5
FAILURE_WINDOW = timedelta(minutes=5)
PASSWORD_LEAST = 10


class TooManyAttempts(BadInput):
    """Signing in is paused after repeated failures."""

    def __init__(self, wait_s: int) -> None:
        super().__init__(
            "password",
            "",
            f"{FAILURES_ALLOWED} failed attempts within 5 minutes",
            f"Wait {wait_s} s and try again; nothing on the phone is lost meanwhile.",
        )
        self.wait_s = wait_s


def add_person(
    session: Session, name: str, role: str, password: str, by_id: int | None = None
) -> Person:
    """Add a person who can sign in; raises BadInput for a name, role or password that won't do."""
    name = name.strip()
    found = together(
        name=lambda: _check_name(session, name),
        role=lambda: check_role(role),
        password_hash=lambda: hashed(password),
    )
    person = Person(name=name, role=role, password_hash=found["password_hash"])
    session.add(person)
    session.flush()
    write_audit(session, by_id, "added", "person", person.id, after={"name": name, "role": role})
    return person


def _check_name(session: Session, name: str) -> None:
    if not 1 <= len(name) <= 80:
        raise BadInput("name", name, "a name has 1 to 80 characters", "Give the name used on site.")
    if session.exec(select(Person.id).where(Person.name == name)).first() is not None:
        raise BadInput("name", name, "the name is taken", "Add an initial or a surname.")


def change_person(
    session: Session,
    person_id: int,
    *,
    by_id: int,
    role: str,
    active: bool,
    password: str = "",
) -> Person:
    """Change role, standing or password; sign-ins end when standing or password changes."""
    person = session.get(Person, person_id)
    if person is None:
        raise NotFound(f"person {person_id}")
    check_role(role)
    stewards = session.exec(
        select(sa.func.count()).where(Person.role == "steward", col(Person.active))
    ).one()
    if person.role == "steward" and (role != "steward" or not active) and stewards == 1:
        raise BadInput(
            "role",
            role,
            "one active steward must remain",
            "Make another person steward first.",
        )
    before = {"role": person.role, "active": person.active}
    person.role, person.active = role, active
    if password:
        person.password_hash = hashed(password)
    if password or not active:
        session.execute(sa.delete(SignIn).where(col(SignIn.person_id) == person_id))
    after = {"role": role, "active": active, "password": "new" if password else "kept"}
    write_audit(session, by_id, "changed", "person", person_id, before=before, after=after)
    return person


def check_role(role: str) -> None:
    if role not in ROLES:
        raise BadInput("role", role, "not a role", f"Choose one of {', '.join(ROLES)}.")


def hashed(password: str) -> str:
    if not PASSWORD_LEAST <= len(password) <= 200:
        raise BadInput(
            "password",
            f"{len(password)} characters",
            f"a password has {PASSWORD_LEAST} to 200 characters",
            "Use a few words that you can type with cold hands.",
        )
    return HASHER.hash(password)


def sign_in(session: Session, name: str, password: str, address: str, now: datetime) -> str:
    """Return a new session token.

    Raises
    ------
    TooManyAttempts
        After five failures for this name and address within five minutes.
    BadInput
        When name and password do not belong together; the same words for both faults.
    """
    name = name.strip()[:80]
    recent = session.exec(
        select(SignInFailure.at)
        .where(
            SignInFailure.name == name,
            SignInFailure.address == address,
            col(SignInFailure.at) > now - FAILURE_WINDOW,
        )
        .order_by(col(SignInFailure.at))
    ).all()
    if len(recent) >= FAILURES_ALLOWED:
        raise TooManyAttempts(max(1, int((recent[0] + FAILURE_WINDOW - now).total_seconds())))
    person = session.exec(select(Person).where(Person.name == name)).first()
    stored = person.password_hash if person and person.active else None
    if person is None or not verified(stored, password):
        session.add(SignInFailure(name=name, address=address, at=now))
        session.commit()
        raise BadInput(
            "password",
            "",
            "name and password do not belong together",
            "Check both; a steward can set a new password.",
        )
    session.execute(sa.delete(SignInFailure).where(col(SignInFailure.name) == name))
    session.execute(sa.delete(SignIn).where(col(SignIn.expires_at) < now))
    token = secrets.token_urlsafe(32)
    assert person.id is not None
    session.add(
        SignIn(
            token_hash=token_hash(token),
            person_id=person.id,
            created_at=now,
            seen_at=now,
            expires_at=now + timedelta(days=SIGN_IN_DAYS),
        )
    )
    session.commit()
    return token


def verified(stored: str | None, password: str) -> bool:
    try:
        return HASHER.verify(stored or NOBODY, password) and stored is not None
    except (VerificationError, InvalidHashError):
        return False


def token_hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()


def sign_in_mark(token: str) -> str:
    """Return a mark that tells one sign-in from another and lets nobody sign in.

    A phone keeps it, so that a sign-out made without signal ends its own sign-in, not the next.
    """
    return hashlib.sha256(f"mark {token_hash(token)}".encode()).hexdigest()[:24]


def person_of(session: Session, token: str, now: datetime) -> tuple[Person, bool] | None:
    """Return the person signed in by a token and whether the sign-in is due for renewal."""
    found = session.exec(
        select(Person, SignIn)
        .join(SignIn, col(SignIn.person_id) == col(Person.id))
        .where(
            SignIn.token_hash == token_hash(token), col(SignIn.expires_at) > now, col(Person.active)
        )
    ).first()
    if found is None:
        return None
    person, signed_in = found
    # One write an hour, not one a request.
    return person, now - signed_in.seen_at > timedelta(hours=1)


def renew(session: Session, token: str, now: datetime) -> None:
    """Push the end of a sign-in out by the idle time."""
    session.execute(
        sa.update(SignIn)
        .where(col(SignIn.token_hash) == token_hash(token))
        .values(seen_at=now, expires_at=now + timedelta(days=SIGN_IN_DAYS))
    )
    session.commit()


def sign_out(session: Session, token: str) -> None:
    session.execute(sa.delete(SignIn).where(col(SignIn.token_hash) == token_hash(token)))
    session.commit()


def people(session: Session) -> list[Person]:
    return list(session.exec(select(Person).order_by(Person.name)))
