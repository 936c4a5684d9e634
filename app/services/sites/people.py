"""What is done about a person: role, name, password, retiring and taking back.

A person is never deleted, because entries cite them. One who is retired cannot sign in and every
sign-in and access token ends at once, a phone's too; what they typed stays theirs, and what waits
on their phone is taken from the file that its outbox page saves, or when they are taken back.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.language.forms import together
from app.records.audit import write_audit
from app.records.database import utc_now
from app.records.entries import Entry
from app.records.people import Person, SignIn
from app.services.sites import accounts, tokens

SUBJECT = "person"


def get_person(session: Session, person_id: int) -> Person:
    """Return a person; raises NotFound."""
    person = session.get(Person, person_id)
    if person is None:
        raise NotFound(f"person {person_id}")
    return person


def named(session: Session, name: str) -> Person:
    """Return the person of a name; raises BadInput with the names there are."""
    person = session.exec(select(Person).where(Person.name == name.strip())).first()
    if person is None:
        listed = ", ".join(p.name for p in accounts.people(session)) or "nobody yet"
        raise BadInput("name", name, "nobody has this name", f"There are: {listed}.")
    return person


def change_role(session: Session, person_id: int, role: str, by_id: int | None) -> Person:
    """Give a person another role; raises BadInput when no steward would be left."""
    accounts.check_role(role)
    person = _locked(session, person_id)
    if person.role != role:
        if person.role == "steward":
            _refuse_last(session, person, "role", role)
        before, person.role = {"role": person.role}, role
        write_audit(
            session, by_id, "role changed", SUBJECT, person_id, before=before, after={"role": role}
        )
    return person


def rename(session: Session, person_id: int, name: str, by_id: int | None) -> Person:
    """Give a person another name to sign in with; the earlier one stays theirs for good.

    Raises
    ------
    BadInput
        When somebody else has the name, or had it: sheets printed then bear it.
    """
    name = name.strip()
    person = _locked(session, person_id)
    accounts.check_name(session, name, person_id)
    if person.name != name:
        before, person.name = {"name": person.name}, name
        write_audit(
            session,
            by_id,
            accounts.RENAMED,
            SUBJECT,
            person_id,
            before=before,
            after={"name": name},
        )
    return person


def set_password(session: Session, person_id: int, password: str, by_id: int | None) -> Person:
    """Set another person's password; all their sign-ins and access tokens end.

    Raises
    ------
    BadInput
        When it is no password, or one's own: that is changed with the old one.
    """
    if person_id == by_id:
        raise BadInput(
            "password",
            "",
            "one's own password is changed with the old one",
            "Open Own password, beside your name at the top.",
        )
    stored = accounts.hashed(password)
    person = _locked(session, person_id)
    person.password_hash = stored
    _end_sign_ins(session, person_id)
    tokens.revoke_all(session, person_id, by_id, utc_now())
    write_audit(session, by_id, "password set", SUBJECT, person_id)
    return person


def change_own_password(
    session: Session,
    person_id: int,
    form: Mapping[str, str],
    *,
    token: str,
    address: str,
    now: datetime,
) -> Person:
    """Change one's own password from its form; every other sign-in of the person ends.

    Raises
    ------
    TooManyAttempts
        After five wrong old passwords in five minutes, sign-ins counted with them.
    BadInput
        When the old password is not the person's, the new one is none, or the two differ.
    """
    person = _locked(session, person_id)
    accounts.refuse_more_tries(session, person.name, address, now)
    new = form.get("password", "")

    def present() -> None:
        if not accounts.verified(person.password_hash, form.get("present", "")):
            accounts.note_failure(session, person.name, address, now)
            raise BadInput(
                "present",
                "",
                "this is not your present password",
                "Type it again; if it is lost, a steward sets a new one.",
            )

    found = together(
        present=present,
        stored=lambda: accounts.hashed(new),
        again=lambda: _same(new, form.get("again", "")),
    )
    person.password_hash = found["stored"]
    _end_sign_ins(session, person_id, keep=accounts.token_hash(token))
    write_audit(session, person_id, "own password changed", SUBJECT, person_id)
    return person


def _same(new: str, again: str) -> None:
    if new != again:
        raise BadInput("again", "", "the two new passwords differ", "Type the new one twice.")


def retire(session: Session, person_id: int, by_id: int | None, reason: str = "") -> Person:
    """End a person's standing, every sign-in and access token at once; twice is once.

    Raises
    ------
    BadInput
        When no steward would be left.
    """
    person = _locked(session, person_id)
    if person.active:
        if person.role == "steward":
            _refuse_last(session, person, "active", "retired")
        person.active = False
        write_audit(session, by_id, "retired", SUBJECT, person_id, reason=reason)
    _end_sign_ins(session, person_id)
    tokens.revoke_all(session, person_id, by_id, utc_now())
    return person


def take_back(session: Session, person_id: int, by_id: int | None, reason: str = "") -> Person:
    """Let a retired person sign in again, by the password they had or one set anew."""
    person = _locked(session, person_id)
    if not person.active:
        person.active = True
        _end_sign_ins(session, person_id)
        write_audit(session, by_id, "taken back", SUBJECT, person_id, reason=reason)
    return person


def change_person(
    session: Session,
    person_id: int,
    *,
    by_id: int,
    role: str,
    active: bool,
    password: str = "",
) -> Person:
    """Change role, standing and password in one act."""
    change_role(session, person_id, role, by_id)
    if password:
        set_password(session, person_id, password, by_id)
    act = take_back if active else retire
    return act(session, person_id, by_id)


@dataclass(frozen=True)
class Standing:
    """A person with what is theirs, so that whoever retires them sees what it touches."""

    of: Person
    earlier: list[str]
    sign_ins: int
    entries: int


def standing(session: Session, person_id: int, now: datetime) -> Standing:
    """Return a person with earlier names, sign-ins that run and entries made; raises NotFound."""
    person = get_person(session, person_id)
    count = sa.select(sa.func.count())
    running = count.where(col(SignIn.person_id) == person_id, col(SignIn.expires_at) > now)
    made = count.where(col(Entry.by_id) == person_id)
    return Standing(
        person,
        accounts.earlier_names(session).get(person_id, []),
        session.execute(running).scalar_one(),
        session.execute(made).scalar_one(),
    )


def _locked(session: Session, person_id: int) -> Person:
    """Return a person as the database has them now, held until this transaction ends.

    The active stewards are held with them, all in one order: of two stewards who take the role
    from each other at once, the second waits and then sees that it is the last.
    """
    wanted = sa.or_(
        col(Person.id) == person_id, sa.and_(col(Person.role) == "steward", col(Person.active))
    )
    rows = session.exec(
        select(Person)
        .where(wanted)
        .order_by(col(Person.id))
        .with_for_update()
        .execution_options(populate_existing=True)
    ).all()
    person = next((row for row in rows if row.id == person_id), None)
    if person is None:
        raise NotFound(f"person {person_id}")
    return person


def _refuse_last(session: Session, person: Person, field: str, value: str) -> None:
    if not person.active:
        return
    others = sa.select(sa.func.count()).where(
        col(Person.role) == "steward", col(Person.active), col(Person.id) != person.id
    )
    if session.execute(others).scalar_one() == 0:
        raise BadInput(
            field, value, "one active steward must remain", "Make another person steward first."
        )


def _end_sign_ins(session: Session, person_id: int, keep: str = "") -> None:
    session.execute(
        sa.delete(SignIn).where(col(SignIn.person_id) == person_id, col(SignIn.token_hash) != keep)
    )
