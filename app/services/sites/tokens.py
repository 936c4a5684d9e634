"""Make, find and revoke access tokens.

A token stands for its person, with that person's role as it is now and no more than its scope. It
ends by itself on its day, when it is revoked, when its person is retired, and when a
steward sets the person a new password. Its text is shown once; the database knows only its hash.
"""

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotAllowed, NotFound
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.people import SCOPES, AccessToken, Person
from app.services.sites.accounts import token_hash

SUBJECT = "access token"
MARK = "sillbook_"  # tells a person, and a search for lost secrets, what the text is
SHOWN = len(MARK) + 4  # characters that tell one token of a person from another
USUAL_DAYS = 90
TOKEN_DAYS = 366
MOST_RUNNING = 20  # of one person: who needs more has lost track of them
USE_NOTED = timedelta(hours=1)  # one write an hour, not one a request


@dataclass(frozen=True)
class Made:
    """A new token: its row, and the text that is shown now and never again."""

    of: AccessToken
    text: str


def make(session: Session, person: Person, form: Form, now: datetime) -> Made:
    """Make a token from its form: name, scope, days; raises BadInput with every fault."""
    assert person.id is not None
    of = person.id

    def name() -> str:
        named = forms.text(form, "name", most=80, required=True)
        running = [one.name for one in of_person(session, of) if runs(one, now)]
        if named in running:
            raise BadInput("name", named, "a running token of yours has this name",
                           "Name the script and the computer, or revoke the other.")  # fmt: skip
        if len(running) >= MOST_RUNNING:
            raise BadInput("name", named, f"{MOST_RUNNING} tokens of yours run already",
                           "Revoke those that nothing uses.")  # fmt: skip
        return named

    found = forms.together(
        name=name, scope=lambda: _scope(form.get("scope", "")), days=lambda: _days(form)
    )
    text = MARK + secrets.token_urlsafe(32)
    one = AccessToken(
        person_id=of,
        name=found["name"],
        scope=found["scope"],
        token_hash=token_hash(text),
        begins=text[:SHOWN],
        created_at=now,
        expires_at=now + timedelta(days=found["days"]),
    )
    session.add(one)
    session.flush()
    told = {"name": one.name, "scope": one.scope, "expires_at": one.expires_at.isoformat()}
    write_audit(session, of, "token made", SUBJECT, one.id, after=told)
    return Made(one, text)


def _scope(scope: str) -> str:
    if scope not in SCOPES:
        raise BadInput("scope", scope, "not a scope", f"Choose {' or '.join(SCOPES)}.")
    return scope


def _days(form: Form) -> int:
    days = forms.whole_days(form, "days", high=TOKEN_DAYS)
    if not days:
        raise BadInput("days", form.get("days", ""), "a token ends by itself",
                       f"Give 1 to {TOKEN_DAYS} days.")  # fmt: skip
    return days


def runs(one: AccessToken, now: datetime) -> bool:
    """Tell whether a token still opens anything, its person aside."""
    return one.revoked_at is None and one.expires_at > now


def of_person(session: Session, person_id: int) -> list[AccessToken]:
    """Return the tokens of a person, newest first, those that have ended too."""
    found = select(AccessToken).where(AccessToken.person_id == person_id)
    return list(session.exec(found.order_by(col(AccessToken.id).desc())))


def person_of(session: Session, text: str, now: datetime) -> tuple[Person, AccessToken] | None:
    """Return whom a token stands for, None when it opens nothing."""
    found = session.exec(
        select(Person, AccessToken)
        .join(AccessToken, col(AccessToken.person_id) == col(Person.id))
        .where(
            AccessToken.token_hash == token_hash(text),
            col(AccessToken.revoked_at).is_(None),
            col(AccessToken.expires_at) > now,
            col(Person.active),
        )
    ).first()
    return None if found is None else (found[0], found[1])


def use_is_due(one: AccessToken, now: datetime) -> bool:
    return one.used_at is None or now - one.used_at > USE_NOTED


def note_use(session: Session, token_id: int, now: datetime) -> None:
    """Write down when a token was used last, to the hour."""
    session.execute(
        sa.update(AccessToken).where(col(AccessToken.id) == token_id).values(used_at=now)
    )
    session.commit()


def revoke(session: Session, token_id: int, by: Person, now: datetime) -> AccessToken:
    """End a token for good: one's own, or anybody's as a steward; twice is once.

    Raises
    ------
    NotFound, NotAllowed
    """
    one = session.get(AccessToken, token_id)
    if one is None:
        raise NotFound(f"access token {token_id}")
    if one.person_id != by.id and by.role != "steward":
        raise NotAllowed("a token is revoked by its own person, or by a steward")
    if one.revoked_at is None:
        one.revoked_at = now
        write_audit(session, by.id, "token revoked", SUBJECT, token_id, before={"name": one.name})
    return one


def revoke_all(session: Session, person_id: int, by_id: int | None, now: datetime) -> None:
    """End every running token of a person."""
    for one in of_person(session, person_id):
        if runs(one, now):
            one.revoked_at = now
            write_audit(session, by_id, "token revoked", SUBJECT, one.id, before={"name": one.name})
