"""Taking the last answer back: a row that says so, the correction with it, never a delete."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from sqlmodel import Session, select

from app.errors import BadInput
from app.records.people import Person
from app.records.review import ReviewDecision
from app.records.sites import Structure
from app.services.corrections import layers as corrections
from app.services.review import answers, approval, trail, undo
from app.services.review import queue as review_queue
from app.services.sync import reviewed
from tests.builders.record_files import NOW, Bench
from tests.builders.review_items import a_spiked_bench, act, picked, spikes
from tests.conftest import a_reading, send
from tests.services.loggers.test_take_in import derived

SOON = NOW + timedelta(minutes=5)


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    return a_spiked_bench(session, a_site, a_person)


def taken_back(bench: Bench) -> list[answers.Answer]:
    last = undo.last_act(bench.session, bench.person, SOON)
    assert last is not None
    done = undo.take_back(bench.session, last.id, bench.person, SOON)
    bench.session.commit()
    return done


def test_several_at_once_are_open_again_and_every_row_stays(bench: Bench) -> None:
    items = spikes(bench)
    answers.decide_all(bench.session, picked(items), act(bench))
    bench.session.commit()
    last = undo.last_act(bench.session, bench.person, SOON)
    assert last is not None
    assert (last.words, last.text) == ("Accepted: 4 faults of the series", "birds")
    assert len(last.left) == 4
    assert [one.refused for one in taken_back(bench)] == [None] * 4
    assert picked(spikes(bench)) == {item.key: 2 for item in items}
    rows = bench.session.exec(select(ReviewDecision).order_by(ReviewDecision.id)).all()  # type: ignore[arg-type]
    assert [row.action for row in rows] == ["accept"] * 4 + ["undo"] * 4
    lines = [x for x in trail.audit(bench.session) if "taken back" in x.action]
    assert {line.changed[0] for line in lines} == {("state", "accepted", "open")}
    with pytest.raises(BadInput, match="not your last answer"):
        undo.take_back(bench.session, last.id, bench.person, SOON)


def test_the_correction_that_was_laid_goes_with_the_answer(bench: Bench) -> None:
    before = derived(bench.session)
    items = spikes(bench)
    answers.decide_all(bench.session, picked(items), act(bench, with_correction=True))
    bench.session.commit()
    assert derived(bench.session) != before
    assert [one.refused for one in taken_back(bench)] == [None] * 4
    assert derived(bench.session) == before
    assert {x.key for x in spikes(bench)} == {x.key for x in items}
    laid = corrections.layers(bench.session, bench.id, with_withdrawn=True)
    assert {layer.withdrawn_by for layer in laid} == {bench.person.name}


def test_a_month_approved_on_top_refuses_and_says_what_to_do(bench: Bench) -> None:
    answers.decide_all(bench.session, picked(spikes(bench)), act(bench))
    for step, revision in (("reviewed", 0), ("approved", 1)):
        approval.move(
            bench.session, bench.id, "2025-07", step, bench.person, SOON, revision=revision
        )
    bench.session.commit()
    done = taken_back(bench)
    refused = [one.refused for one in done if one.refused]
    assert [(one.value, one.remedy) for one in refused] == [
        ("2025-07", "Open the month again with a reason, then take the answer back.")
    ] * 2
    assert len(spikes(bench)) == 2  # those of August
    approval.move(
        bench.session, bench.id, "2025-07", "draft", bench.person, SOON,
        reason="a spike is doubted", revision=2,
    )  # fmt: skip
    bench.session.commit()


def test_what_somebody_answered_since_stays(bench: Bench, a_person: Callable[..., Person]) -> None:
    items = spikes(bench)
    answers.decide_all(bench.session, picked(items), act(bench))
    other = a_person("Second", "office")
    again = act(bench, "reopen", "a doubt", person=other, now=SOON)
    answers.decide(bench.session, items[0].key, 1, again)
    bench.session.commit()
    last = undo.last_act(bench.session, bench.person, SOON)
    assert last is not None
    assert len(last.left) == 3
    refused = [one.refused for one in taken_back(bench) if one.refused]
    assert ["Second opened it again" in one.rule for one in refused] == [True]
    assert len(spikes(bench)) == 4


def test_only_the_last_answer_of_oneself_and_not_for_ever(
    bench: Bench, a_person: Callable[..., Person]
) -> None:
    other = a_person("Second", "office")
    items = spikes(bench)
    answers.decide(bench.session, items[0].key, 0, act(bench, text=""))
    bench.session.commit()
    last = undo.last_act(bench.session, bench.person, SOON)
    assert last is not None
    assert last.words == "Accepted: 1 fault of the series"
    assert undo.last_act(bench.session, other, SOON) is None
    with pytest.raises(BadInput, match="not your last answer"):
        undo.take_back(bench.session, last.id, other, SOON)
    late = NOW + undo.OFFERED_FOR + timedelta(minutes=1)
    assert undo.last_act(bench.session, bench.person, late) is None
    comment = act(bench, "comment", "by the way", now=SOON)
    answers.decide(bench.session, items[0].key, 1, comment)  # which does not hide the answer
    bench.session.commit()
    assert [one.refused for one in taken_back(bench)] == [None]
    assert spikes(bench)[0].state == "open"


def test_a_refused_entry_is_back_in_the_queue(bench: Bench) -> None:
    broken = a_reading(bench.structure, bench.person, 0.2) | {"kind": "rumour"}
    send(bench.session, bench.person, broken)
    bench.session.commit()
    item = next(x for x in review_queue.queue(bench.session) if x.kind == "refused")
    answers.decide(bench.session, item.key, 0, act(bench, "return", "ask Ines"))
    bench.session.commit()
    assert "refused" not in review_queue.counts(bench.session)
    assert [one.refused for one in taken_back(bench)] == [None]
    assert review_queue.counts(bench.session)["refused"] == 1


def test_an_answer_before_it_counts_again(bench: Bench) -> None:
    item = spikes(bench)[0]
    answers.decide(bench.session, item.key, 0, act(bench, "return", "why?"))
    answers.decide(bench.session, item.key, 1, act(bench, "accept", "so", now=SOON))
    bench.session.commit()
    taken_back(bench)
    assert [x.key for x in spikes(bench, "returned")] == [item.key]


def test_a_reading_is_no_longer_reviewed_on_the_phone(
    bench: Bench, session: Session, a_site: Callable[..., Structure]
) -> None:
    """What the phone shows as seen follows the answer that counts."""
    entry = {"id": "e", "observed_at": "2025-07-02T00:00:00+00:00", "structure_id": bench.id}

    def seen() -> bool:
        return bool(reviewed.mark_reviewed(session, [entry], 720)[0]["reviewed"])

    for revision, action in enumerate(("accept", "undo")):
        session.add(
            ReviewDecision(
                item_key="differs:e", revision=revision + 1, action=action,
                by_id=bench.person.id or 0, at=NOW,
            )
        )  # fmt: skip
        session.commit()
        assert seen() == (action == "accept")
