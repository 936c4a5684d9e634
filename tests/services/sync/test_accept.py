"""The promise of the sync: stored exactly once, for ever, as it was seen."""

import copy
import json
import uuid
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session, col, select

from app.hydraulics.structure.device import Flow
from app.records.entries import Entry, RefusedEntry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.entries import links
from app.services.readings import rate as rating
from app.services.sync import accept as sync
from tests.conftest import BEGIN, a_reading, send

Site = Callable[..., Structure]
Somebody = Callable[..., Person]


def test_a_reading_is_stored_and_rated(session: Session, a_site: Site, a_person: Somebody) -> None:
    structure, person = a_site(), a_person()
    [receipt] = send(session, person, a_reading(structure, person, 0.15, tail_staff_m=0.05))
    assert receipt.state == "stored"
    value = session.exec(select(FlowValue)).one()
    # 1 ft flume at 0.15 m: 0.0385 m3/s; Bos 1989 coefficients, from memory.
    assert value.discharge_m3s == pytest.approx(0.0385, rel=0.003)
    assert value.flow == Flow.FREE
    assert value.rating_id is not None
    assert value.gauge_zero_id is not None
    assert value.uncertainty_pct is not None


def test_sending_twice_stores_once(session: Session, a_site: Site, a_person: Somebody) -> None:
    structure, person = a_site(), a_person()
    entry = a_reading(structure, person)
    assert [r.state for r in send(session, person, entry)] == ["stored"]
    assert [r.state for r in send(session, person, entry)] == ["already_held"]
    assert [r.state for r in send(session, person, entry, entry)] == ["already_held"] * 2
    assert session.exec(select(sa.func.count()).select_from(Entry)).one() == 1
    assert session.exec(select(sa.func.count()).select_from(FlowValue)).one() == 1


def test_same_id_with_other_content_is_refused_and_both_are_kept(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    entry = a_reading(structure, person, 0.21)
    other = copy.deepcopy(entry)
    other["body"]["staff_m"] = [0.25]
    send(session, person, entry)
    [receipt] = send(session, person, other)
    assert receipt.state == "refused"
    assert receipt.error is not None
    assert receipt.error.field == "id"
    assert session.exec(select(Entry)).one().body["staff_m"] == [0.21]
    assert json.loads(session.exec(select(RefusedEntry)).one().content) == other


def test_same_id_twice_in_one_batch(session: Session, a_site: Site, a_person: Somebody) -> None:
    structure, person = a_site(), a_person()
    entry = a_reading(structure, person, 0.21)
    other = copy.deepcopy(entry)
    other["body"]["staff_m"] = [0.25]
    receipts = send(session, person, entry, other, entry)
    assert [r.state for r in receipts] == ["stored", "refused", "already_held"]


def test_one_bad_entry_never_blocks_the_rest(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    good = [a_reading(structure, person) for _ in range(3)]
    bad: list[object] = [
        a_reading(structure, person, body_staff_m=["0.21"]),
        a_reading(structure, person, body_staff_m=[]),
        a_reading(structure, person, body_staff_m=[0.2] * 11),
        a_reading(structure, person, body_surprise=1),
        a_reading(structure, person, kind="unheard"),
        a_reading(structure, person, site_id=999),
        a_reading(structure, person, structure_id=None),
        a_reading(structure, person, observed_at="2026-11-25T09:15:00"),
        a_reading(structure, person, corrects=str(uuid.uuid4())),
        a_reading(structure, person, by=person.id + 1 if person.id else 0),
        a_reading(structure, person, body_note="a\0b"),
        a_reading(structure, person, id="no uuid"),
        a_reading(structure, person, tail_state="read"),
        "text",
        None,
        17,
    ]
    receipts = send(session, person, *bad, *good)
    assert [r.state for r in receipts] == ["refused"] * len(bad) + ["stored"] * 3
    for receipt in receipts[: len(bad)]:
        assert receipt.error is not None
        assert receipt.error.field
        assert receipt.error.rule
        assert receipt.error.remedy
    kept = session.exec(select(sa.func.count()).select_from(RefusedEntry)).one()
    assert kept == len(bad)
    send(session, person, *bad)  # a phone that tries again does not pile them up
    assert session.exec(select(sa.func.count()).select_from(RefusedEntry)).one() == kept


def test_entries_are_append_only(session: Session, a_site: Site, a_person: Somebody) -> None:
    structure, person = a_site(), a_person()
    send(session, person, a_reading(structure, person))
    for statement in (
        sa.update(Entry).values(reason="tidied"),
        sa.delete(Entry),
    ):
        with pytest.raises(sa.exc.DatabaseError, match="append-only"):
            session.execute(statement)
        session.rollback()
    assert session.exec(select(Entry)).one().reason is None


def test_a_correction_is_a_new_row(session: Session, a_site: Site, a_person: Somebody) -> None:
    structure, person = a_site(), a_person()
    first = a_reading(structure, person, 0.31)
    second = a_reading(structure, person, 0.21, corrects=first["id"], reason="misread by 0.1 m")
    assert [r.state for r in send(session, person, first, second)] == ["stored", "stored"]
    assert {e.body["staff_m"][0] for e in session.exec(select(Entry))} == {0.31, 0.21}


def test_crew_correct_their_own_the_office_anybodys(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, ines = a_site(), a_person("Ines")
    tamsin, rudd = a_person("Tamsin"), a_person("Rudd", "office")
    first = a_reading(structure, ines, 0.31)
    send(session, ines, first)
    changes = {"corrects": first["id"], "reason": "misread"}
    meddled = a_reading(structure, tamsin, 0.21, **changes)
    [kept] = send(session, tamsin, meddled)
    assert kept.state == "stored", "an observation is never lost for its link"
    assert "does not count: crew correct their own entries" in kept.notes[0]
    assert not links.what_stands(session).stands(meddled["id"])
    assert links.what_stands(session).stands(first["id"])
    right = a_reading(structure, rudd, 0.21, **changes)
    [stored] = send(session, rudd, right)
    assert (stored.state, stored.notes) == ("stored", [])
    assert links.what_stands(session).stands(right["id"])
    assert not links.what_stands(session).stands(first["id"])


def test_a_fault_in_rating_never_loses_the_reading(
    session: Session, a_site: Site, a_person: Somebody, monkeypatch: pytest.MonkeyPatch
) -> None:
    structure, person = a_site(), a_person()

    def fail(*_: object) -> None:
        raise RuntimeError("planted")

    with monkeypatch.context() as patch:
        patch.setattr(rating, "group_rows", fail)
        [receipt] = send(session, person, a_reading(structure, person))
    assert receipt.state == "stored"
    assert "not rated" in receipt.notes[0]
    assert session.exec(select(FlowValue)).first() is None
    assert rating.rate_missing(session) == 1
    assert session.exec(select(FlowValue)).one().discharge_m3s is not None


def test_no_zero_or_rating_in_force_is_said(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    bare, person = a_site("BARE", zeroed=False), a_person()
    early = a_site("EARLY")
    receipts = send(
        session,
        person,
        a_reading(bare, person),
        a_reading(early, person, at=BEGIN - timedelta(days=1)),
    )
    assert [r.state for r in receipts] == ["stored", "stored"]
    assert "gauge zero" in receipts[0].notes[0]
    assert "rating" in receipts[1].notes[0]
    flows = session.exec(select(FlowValue.flow).order_by(col(FlowValue.id))).all()
    assert flows == [Flow.NOT_RATED, Flow.NOT_RATED]


def test_zero_offset_applies_to_both_heads(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    # Staff 0.251 with gauge zero 99.223 and crest 99.2235 gives head 0.2505 (level run arithmetic).
    structure, person = a_site(zero_offset_m=-0.0005), a_person()
    send(session, person, a_reading(structure, person, 0.251, tail_staff_m=0.1))
    value = session.exec(select(FlowValue)).one()
    assert value.head_m == pytest.approx(0.2505, abs=1e-9)
    assert value.tailwater_m == pytest.approx(0.0995, abs=1e-9)


def test_flow_words_are_honest(session: Session, a_site: Site, a_person: Somebody) -> None:
    structure, person = a_site(), a_person()
    entries = [
        a_reading(structure, person, 0.3),
        a_reading(structure, person, 0.3, tail_state="clearly_free"),
        a_reading(structure, person, 0.3, tail_staff_m=0.1),
        a_reading(structure, person, 0.3, tail_staff_m=0.255),
        a_reading(structure, person, 0.3, tail_staff_m=0.294),
        a_reading(structure, person, 0.3, tail_staff_m=0.35),
        a_reading(structure, person, 0.0),
    ]
    assert {r.state for r in send(session, person, *entries)} == {"stored"}
    found = dict(session.execute(sa.select(col(FlowValue.entry_id), col(FlowValue.flow))).all())
    words = [Flow(found[e["id"]]).word for e in entries]
    assert words == [
        "assumed free",
        "free",
        "free",
        "submerged, corrected",
        "submerged, not determined",
        "not rated",
        "no flow",
    ]


def test_clock_skew_is_noted_never_refused(
    session: Session, a_site: Site, a_person: Somebody
) -> None:
    structure, person = a_site(), a_person()
    now = datetime.now(UTC)
    batch = sync.Batch("p", now + timedelta(minutes=11), [a_reading(structure, person)])
    [receipt] = sync.accept(session, person, batch, now)
    assert receipt.state == "stored"
    assert receipt.notes == ["the phone's clock is 11 min ahead of the office's"]


json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**70), 2**70) | st.floats() | st.text(max_size=20),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4)
    ),
    max_leaves=8,
)


@settings(
    max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    changes=st.dictionaries(
        st.sampled_from(
            [
                "id",
                "kind",
                "site_id",
                "structure_id",
                "observed_at",
                "saved_at",
                "by",
                "corrects",
                "reason",
                "utc_offset_min",
                "body",
                "visit_id",
            ]
        ),
        json_values,
        max_size=3,
    ),
    body=st.dictionaries(
        st.sampled_from(["staff_m", "tailwater", "read_at", "gate_opened_at", "note", "x"]),
        json_values,
        max_size=2,
    ),
)
def test_any_entry_gets_a_receipt(
    session: Session,
    a_site: Site,
    a_person: Somebody,
    changes: dict[str, Any],
    body: dict[str, Any],
) -> None:
    structure = session.exec(select(Structure)).first() or a_site()
    person = session.exec(select(Person)).first() or a_person()
    entry = a_reading(structure, person)
    entry["body"] |= body
    entry |= changes
    good = a_reading(structure, person)
    receipts = send(session, person, entry, good)
    assert receipts[0].state in {"stored", "refused", "already_held"}
    assert receipts[1].state == "stored"


def test_a_refused_visit_is_stored_under_its_own_id_once_it_is_put_right(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    """The readings made meanwhile cite the visit's id, so the phone keeps it."""
    structure, ines = a_site(), a_person("Ines")
    visit = a_reading(structure, ines, kind="visit", structure_id=None, body={"note": "x" * 4001})
    assert [r.state for r in send(session, ines, visit)] == ["refused"]
    right = {**visit, "body": {"note": "short"}}
    assert [r.state for r in send(session, ines, right)] == ["stored"]
    assert [r.state for r in send(session, ines, right)] == ["already_held"]
    refused = session.exec(select(RefusedEntry)).all()
    assert [json.loads(one.content)["body"]["note"] for one in refused] == ["x" * 4001]
