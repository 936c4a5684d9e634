"""The sheet "fit to record from": what is outside is listed, what is missing is said, signed once.

Limits of sensor (2 mm or 1 % of head) and clock are defaults of the tool, common practice.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session, select

from app.errors import BadInput
from app.language.trade import SEEPS
from app.records.audit import AuditEntry
from app.records.people import Person
from app.records.plans import FitSheet
from app.records.sites import Structure
from app.services.install import sheet as commissioning
from tests.conftest import BEGIN, iso, send

NOW = datetime(2026, 11, 25, tzinfo=UTC)


def opening(structure: Structure, person: Person, **changes: Any) -> dict[str, Any]:
    start = BEGIN + timedelta(days=40)
    heads = [0.150, 0.1995, 0.2, 0.2, 0.2005, 0.2]
    body = {
        "gate": [{"at": iso(start), "opening": "60 mm"}],
        "heads": [
            {"at": iso(start + timedelta(minutes=10 + 3 * i)), "staff_m": h, "tail_staff_m": 0.02}
            for i, h in enumerate(heads)
        ],
        "seeps": dict.fromkeys(SEEPS, "none"),
        "sensor": {"at": iso(start), "staff_m": 0.2, "before_m": 0.214, "after_m": 0.201},
        "clock": {"right": iso(start), "before": iso(start + timedelta(seconds=90)),
                  "after": iso(start)},
        "fit_from": iso(start + timedelta(hours=1)),
        "fit_words": "",
    } | changes  # fmt: skip
    return {
        "id": "01890000-0000-7000-8000-000000000201", "kind": "opening",
        "site_id": structure.site_id, "structure_id": structure.id, "visit_id": None,
        "observed_at": iso(start), "utc_offset_min": 720, "by": person.id,
        "saved_at": iso(start + timedelta(hours=1)), "corrects": None, "reason": None,
        "body": body,
    }  # fmt: skip


def test_a_good_opening_has_nothing_outside(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    person, structure = a_person(), a_site()
    assert send(session, person, opening(structure, person))[0].state == "stored"
    sheet = commissioning.sheet(session, structure.id or 0)
    rows = dict(row for part in sheet.parts for row in part.rows)
    assert sheet.outside == []
    assert rows["Steady test"].startswith("steady")
    assert "200.0 mm" in rows["Head and flow then"]
    assert rows["Head and flow then"].endswith("free")
    assert rows["Sensor against the staff"] == "+1.0 mm as left, before +14.0 mm"
    assert rows["Logger clock"] == "right as left, before 1 min 30 s fast"
    assert sheet.fit_from == BEGIN + timedelta(days=40, hours=1)
    assert any("first check gauging" in words for words in sheet.unknown)
    assert any("no level run" in words for words in sheet.unknown)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"seeps": {"toe": "muddy"}}, "muddy seep, toe below the tail"),
        ({"sensor": {"at": iso(BEGIN), "staff_m": 0.2, "before_m": None, "after_m": 0.2031}},
         "sensor +3.1 mm"),
        ({"clock": {"right": iso(BEGIN), "before": None,
                    "after": iso(BEGIN + timedelta(seconds=75))}}, "clock 1 min 15 s fast"),
        ({"gate": [{"at": iso(BEGIN + timedelta(days=40, minutes=24)), "opening": "80 mm"}]},
         "flow settling"),
    ],
)  # fmt: skip
def test_what_is_outside_is_listed(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    changes: dict[str, Any],
    words: str,
) -> None:
    person, structure = a_person(), a_site()
    send(session, person, opening(structure, person, **changes))
    sheet = commissioning.sheet(session, structure.id or 0)
    assert any(words in said for said in sheet.outside), sheet.outside


def test_without_an_opening_everything_is_unknown_never_fine(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site(rated=False, zeroed=False)
    sheet = commissioning.sheet(session, structure.id or 0)
    assert {"no rating in force", "no gauge zero in force"} <= set(sheet.unknown)
    assert any("no opening recorded" in words for words in sheet.unknown)


def test_a_signature_keeps_the_sheet_as_it_stood(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    person, structure = a_person(), a_site()
    send(session, person, opening(structure, person, seeps={"toe": "clear"}))
    form = {"fit_from": "2026-11-01T10:00", "signed_name": "Ines", "words": ""}
    with pytest.raises(BadInput) as refused:
        commissioning.sign(session, structure.id or 0, form, person, NOW)
    assert refused.value.field == "words", "what is outside needs words"
    commissioning.sign(session, structure.id or 0, form | {"words": "to be watched"}, person, NOW)
    session.commit()
    signed = commissioning.signed(session, structure.id or 0)
    assert signed[0].row.signed_name == "Ines"
    assert signed[0].row.signed_at == NOW
    assert any("clear seep" in words for words in signed[0].row.sheet["outside"])
    actions = session.exec(select(AuditEntry.action)).all()
    assert "commissioning sheet signed" in actions
    with pytest.raises(sa.exc.DBAPIError, match="append-only"):
        session.execute(sa.delete(FitSheet))
    session.rollback()


def test_it_says_that_it_is_no_certificate() -> None:
    assert "no certificate" in commissioning.NOT_A_CERTIFICATE
