"""Signing in and out, and the people who may."""

import hashlib
import secrets
from datetime import datetime, timedelta

import sqlalchemy as sa
from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language.forms import together
from app.records.audit import AuditEntry, write_audit
from app.records.people import ROLES, Person, SignIn, SignInFailure

# OWASP Password Storage Cheat Sheet, argon2id at 19 MiB and two passes: fits a small server.
HASHER = PasswordHasher(time_cost=2, memory_cost=19_456, parallelism=1)
NOBODY = HASHER.hash(secrets.token_hex(16))  # the same work for a name that does not exist

SIGN_IN_DAYS = 30  # idle time; a phone may be without coverage for weeks
FAILURES_ALLOWED = 5
FAILURE_WINDOW = timedelta(minutes=5)
PASSWORD_LEAST = 10
RENAMED = "renamed"  # how the trail says it


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
        name=lambda: check_name(session, name),
        role=lambda: check_role(role),
        password_hash=lambda: hashed(password),
    )
    person = Person(name=name, role=role, password_hash=found["password_hash"])
    session.add(person)
    session.flush()
    write_audit(session, by_id, "added", "person", person.id, after={"name": name, "role": role})
    return person


def check_name(session: Session, name: str, own_id: int | None = None) -> None:
    """Refuse a name that is none, that somebody has, or that somebody else once had."""
    if not 1 <= len(name) <= 80 or not name.isprintable():
        raise BadInput("name", name, "a name has 1 to 80 characters", "Give the name used on site.")
    holder = session.exec(select(Person.id).where(Person.name == name)).first()
    if holder not in (None, own_id):
        raise BadInput("name", name, "the name is taken", "Add an initial or a surname.")
    if any(name in names for key, names in earlier_names(session).items() if key != own_id):
        raise BadInput(
            "name",
            name,
            "somebody else had this name before, and sheets printed then still bear it",
            "Add an initial or a surname.",
        )


def earlier_names(session: Session) -> dict[int, list[str]]:
    """Return the names people had before, by person, oldest first."""
    lines = session.exec(
        select(AuditEntry)
        .where(AuditEntry.subject == "person", AuditEntry.action == RENAMED)
        .order_by(col(AuditEntry.id))
    )
    found: dict[int, list[str]] = {}
    for line in lines:
        found.setdefault(int(line.subject_id), []).append(str((line.before or {}).get("name", "")))
    return found


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
    refuse_more_tries(session, name, address, now)
    # Locked, so that a password set or a person retired meanwhile comes before or after this.
    person = session.exec(select(Person).where(Person.name == name).with_for_update()).first()
    stored = person.password_hash if person and person.active else None
    if person is None or not verified(stored, password):
        note_failure(session, name, address, now)
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


def refuse_more_tries(session: Session, name: str, address: str, now: datetime) -> None:
    """Raise TooManyAttempts after five failures for this name and address in five minutes."""
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


def note_failure(session: Session, name: str, address: str, now: datetime) -> None:
    """Count a failure, and keep it: what is refused next rolls back."""
    session.add(SignInFailure(name=name, address=address, at=now))
    session.commit()


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
