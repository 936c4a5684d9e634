"""What is done about a person, who remains, and that nothing of theirs is lost."""

import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.records.audit import AuditEntry
from app.records.people import Person, SignIn
from app.services.sites import accounts, people
from tests.conftest import PASSWORD

NOW = datetime(2026, 11, 25, tzinfo=UTC)
NEW = "another long password"


def key_of(person: Person) -> int:
    assert person.id is not None
    return person.id


def trail(session: Session) -> list[str]:
    return list(session.exec(select(AuditEntry.action).order_by(col(AuditEntry.id))))


def test_the_last_steward_stays(session: Session, a_person: Callable[..., Person]) -> None:
    keeper = key_of(a_person("Keeper", "steward"))
    with pytest.raises(BadInput, match="one active steward"):
        people.change_role(session, keeper, "crew", keeper)
    with pytest.raises(BadInput, match="one active steward"):
        people.retire(session, keeper, keeper)
    session.rollback()
    second = key_of(a_person("Second", "steward"))
    people.retire(session, second, keeper)
    session.commit()
    with pytest.raises(BadInput, match="one active steward"):
        people.change_role(session, keeper, "office", keeper)
    session.rollback()
    people.take_back(session, second, keeper)
    people.change_role(session, keeper, "office", second)
    session.commit()
    lines = session.exec(select(AuditEntry).order_by(col(AuditEntry.id))).all()
    assert [line.action for line in lines] == ["retired", "taken back", "role changed"]
    assert (lines[-1].before, lines[-1].after) == ({"role": "steward"}, {"role": "office"})


@pytest.mark.parametrize("act", ["role", "retire"])
def test_two_stewards_who_put_each_other_out_at_once(
    engine: sa.Engine, session: Session, a_person: Callable[..., Person], act: str
) -> None:
    pair = [key_of(a_person(name, "steward")) for name in ("Teal", "Rudd")]
    start, refused = threading.Barrier(2), []

    def put_out(mine: int, other: int) -> None:
        with Session(engine) as own:
            start.wait()
            try:
                if act == "role":
                    people.change_role(own, other, "crew", mine)
                else:
                    people.retire(own, other, mine)
                own.commit()
            except BadInput as error:
                refused.append(error.rule)

    session.commit()
    hands = [threading.Thread(target=put_out, args=(a, b)) for a, b in (pair, pair[::-1])]
    for hand in hands:
        hand.start()
    for hand in hands:
        hand.join()
    session.expire_all()
    left = session.exec(select(Person).where(Person.role == "steward", col(Person.active))).all()
    assert len(left) == 1
    assert refused == ["one active steward must remain"]


def test_retiring_ends_every_sign_in_and_twice_is_once(
    session: Session, a_person: Callable[..., Person]
) -> None:
    ines = key_of(a_person())
    tokens = [accounts.sign_in(session, "Ines", PASSWORD, "", NOW) for _ in range(2)]
    assert people.standing(session, ines, NOW).sign_ins == 2
    for _ in range(2):
        people.retire(session, ines, None, "left in March")
    session.commit()
    assert all(accounts.person_of(session, token, NOW) is None for token in tokens)
    with pytest.raises(BadInput, match="do not belong together"):
        accounts.sign_in(session, "Ines", PASSWORD, "", NOW)
    people.take_back(session, ines, None)
    session.commit()
    assert all(accounts.person_of(session, token, NOW) is None for token in tokens)
    assert accounts.sign_in(session, "Ines", PASSWORD, "", NOW)
    assert trail(session) == ["retired", "taken back"]


def test_ones_own_password_needs_the_old_one_and_ends_the_other_sign_ins(
    session: Session, a_person: Callable[..., Person]
) -> None:
    ines = key_of(a_person())
    here, phone = (accounts.sign_in(session, "Ines", PASSWORD, "", NOW) for _ in range(2))

    def change(old: str, new: str, again: str, now: datetime = NOW) -> None:
        form = {"present": old, "password": new, "again": again}
        people.change_own_password(session, ines, form, token=here, address="", now=now)
        session.commit()

    with pytest.raises(BadInput) as caught:
        change("wrong", "short", "other")
    assert {fault.field for fault in caught.value.faults} == {"present", "password", "again"}
    change(PASSWORD, NEW, NEW)
    assert accounts.person_of(session, here, NOW) is not None
    assert accounts.person_of(session, phone, NOW) is None
    with pytest.raises(BadInput):
        accounts.sign_in(session, "Ines", PASSWORD, "", NOW)
    assert accounts.sign_in(session, "Ines", NEW, "", NOW)
    for _ in range(accounts.FAILURES_ALLOWED):
        with pytest.raises(BadInput, match="not your present password"):
            change("wrong", NEW, NEW)
    with pytest.raises(accounts.TooManyAttempts):
        change(NEW, PASSWORD, PASSWORD)
    change(NEW, PASSWORD, PASSWORD, NOW + timedelta(minutes=6))
    assert trail(session) == ["own password changed"] * 2


def test_a_steward_sets_the_password_of_another_only(
    session: Session, a_person: Callable[..., Person]
) -> None:
    ines, keeper = key_of(a_person()), key_of(a_person("Keeper", "steward"))
    token = accounts.sign_in(session, "Ines", PASSWORD, "", NOW)
    with pytest.raises(BadInput, match="one's own password"):
        people.set_password(session, keeper, NEW, keeper)
    with pytest.raises(BadInput, match="10 to 200"):
        people.set_password(session, ines, "short", keeper)
    people.set_password(session, ines, NEW, keeper)
    session.commit()
    assert accounts.person_of(session, token, NOW) is None
    assert session.exec(select(SignIn)).all() == []
    line = session.exec(select(AuditEntry)).one()
    assert NEW not in str(line.after)


def test_an_earlier_name_stays_its_persons(
    session: Session, a_person: Callable[..., Person]
) -> None:
    ines, tamsin = key_of(a_person()), key_of(a_person("Tamsin"))
    people.rename(session, ines, "  Ines Rudd ", None)
    session.commit()
    assert accounts.sign_in(session, "Ines Rudd", PASSWORD, "", NOW)
    assert people.standing(session, ines, NOW).earlier == ["Ines"]
    for taken in ("Ines", "Ines Rudd"):
        with pytest.raises(BadInput) as caught:
            people.rename(session, tamsin, taken, None)
        assert caught.value.field == "name"
        with pytest.raises(BadInput):
            accounts.add_person(session, taken, "crew", PASSWORD)
    people.rename(session, ines, "Ines", None)
    session.commit()
    assert people.named(session, "Ines").id == ines


def test_somebody_unknown_is_not_found(session: Session, a_person: Callable[..., Person]) -> None:
    a_person("Tamsin")
    with pytest.raises(NotFound):
        people.retire(session, 99, None)
    with pytest.raises(NotFound):
        people.standing(session, 99, NOW)
    with pytest.raises(BadInput, match="nobody has this name") as caught:
        people.named(session, "Ines")
    assert "Tamsin" in caught.value.remedy
