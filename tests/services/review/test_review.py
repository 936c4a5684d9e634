"""The review queue and the way of a month from draft to approved; two people at once."""

from collections.abc import Callable
from datetime import UTC, datetime

import numpy as np
import pytest
from sqlalchemy.exc import DatabaseError
from sqlmodel import Session, select

from app.errors import BadInput, NotFound
from app.language.forms import ChangedMeanwhile
from app.records.people import Person
from app.records.review import MonthState, ReviewDecision
from app.records.sites import Rating, Structure
from app.services.corrections import layers as corrections
from app.services.days import daily
from app.services.days import rebuild as series_store
from app.services.loggers import undo as logger_undo
from app.services.review import answers, approval
from app.services.review import queue as review_queue
from app.services.review import trail as record_audit
from app.services.review.items import QueueItem
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, calm, log_text, times
from tests.conftest import a_reading, send
from tests.services.loggers.test_take_in import derived


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    made = a_bench(session, a_site, a_person)
    t = times(61)
    made.take(log_text(t, calm(t)))
    return made


def move(bench: Bench, month: str, to: str, revision: int, reason: str = "") -> approval.MonthLine:
    done = approval.move(
        bench.session, bench.id, month, to, bench.person, NOW, reason=reason, revision=revision
    )
    bench.session.commit()
    return done


def approve(bench: Bench, month: str = "2025-07") -> None:
    move(bench, month, "reviewed", 0)
    move(bench, month, "approved", 1)


def test_a_month_goes_from_draft_to_approved_with_who_and_when(bench: Bench) -> None:
    approve(bench)
    line = approval.months(bench.session, bench.id)[0]
    assert (line.month, line.state, line.by, line.at) == (
        "2025-07", "approved", bench.person.name, NOW
    )  # fmt: skip
    with pytest.raises(BadInput, match="From there"):
        move(bench, "2025-07", "reviewed", 2)
    with pytest.raises(BadInput, match="From there"):
        move(bench, "2025-08", "approved", 0)
    with pytest.raises(BadInput, match="no record"):
        move(bench, "2024-01", "reviewed", 0)


def test_an_approved_month_changes_only_after_it_was_opened_again(bench: Bench) -> None:
    approve(bench)
    before = derived(bench.session)
    form = bench.layer("offset", JULY + DAY, JULY + 2 * DAY, amount="0.01")
    with pytest.raises(BadInput, match="Open the month again"):
        corrections.add_layer(bench.session, bench.id, form, bench.person, NOW)
    with pytest.raises(BadInput, match="Open the month again"):
        bench.take(log_text(times(2)[:-1] + 450, np.full(192, 0.2)), "between.csv")
    bench.session.rollback()
    with pytest.raises(BadInput, match="Open the month again"):
        logger_undo.undo_import(bench.session, 1, bench.person, NOW, "test")
    bench.session.rollback()
    assert derived(bench.session) == before
    with pytest.raises(BadInput, match="Say why"):
        move(bench, "2025-07", "draft", 2)
    opened = move(bench, "2025-07", "draft", 2, reason="wrong zero")
    assert (opened.state, opened.revision) == ("draft", 3)
    corrections.add_layer(bench.session, bench.id, form, bench.person, NOW)
    bench.session.commit()
    assert derived(bench.session) != before
    trail = record_audit.audit(bench.session, site_id=bench.site_id)
    line = next(x for x in trail if x.action == "month opened again")
    assert line.reason == "wrong zero"
    assert ("state", "approved", "draft") in line.changed


def test_the_same_readings_again_do_not_hurt_an_approved_month(bench: Bench) -> None:
    approve(bench)
    before = derived(bench.session)
    t = times(75)
    done = bench.take(log_text(t, np.concatenate([calm(times(61)), calm(t)[-1344:]])), "more.csv")
    assert done.new == 1344
    assert done.held_months == ["2025-07"]
    assert [r for r in derived(bench.session) if r[1] == 666] == [r for r in before if r[1] == 666]


def test_a_new_rating_leaves_an_approved_month_and_names_it(bench: Bench) -> None:
    approve(bench)
    july = daily.daily(bench.session, bench.id)[:31]
    bench.session.add(
        Rating(
            structure_id=bench.id,
            valid_from=datetime(2025, 7, 1, tzinfo=UTC),
            family="parshall",
            dims={"size": "2ft"},
            reason="measured",
        )
    )
    bench.session.commit()
    made = series_store.rebuild(bench.session, bench.id)
    bench.session.commit()
    assert made.held == ["2025-07"]
    rows = daily.daily(bench.session, bench.id)
    assert rows[:31] == july
    assert rows[40]["mean_m3s"] > 1.5 * july[10]["mean_m3s"]
    (item,) = [i for i in review_queue.queue(bench.session) if i.kind == "stale"]
    assert item.link["month"] == "2025-07"
    move(bench, "2025-07", "draft", 2, reason="follow the new rating")
    assert daily.daily(bench.session, bench.id)[10]["mean_m3s"] > 1.5 * july[10]["mean_m3s"]
    assert [i for i in review_queue.queue(bench.session) if i.kind == "stale"] == []


def spiked(bench: Bench) -> QueueItem:
    t = times(61)
    head = calm(t)
    head[1000] += 0.1
    logger_undo.undo_import(bench.session, 1, bench.person, NOW, "again with a spike")
    bench.take(log_text(t, head), "spike.csv")
    return next(i for i in review_queue.queue(bench.session) if i.kind == "fault")


def test_a_fault_is_work_and_stands_until_a_person_answers(bench: Bench) -> None:
    item = spiked(bench)
    assert item.title == "spike"
    assert item.size == pytest.approx(0.1, abs=0.003)
    move(bench, "2025-07", "reviewed", 0)
    with pytest.raises(BadInput, match="Accept or return"):
        move(bench, "2025-07", "approved", 1)
    done = answers.decide(
        bench.session,
        item.key,
        0,
        answers.Act(
            action="accept", text="an echo", person=bench.person, now=NOW, with_correction=True
        ),
    )
    bench.session.commit()
    assert done.state == "accepted"
    (layer,) = corrections.layers(bench.session, bench.id)
    assert layer.shape == "spike"
    assert review_queue.counts(bench.session) == {}
    move(bench, "2025-07", "approved", 1)


def test_accepting_a_fault_without_correction_lets_the_record_stand(bench: Bench) -> None:
    item = spiked(bench)
    before = derived(bench.session)
    done = answers.decide(
        bench.session,
        item.key,
        item.revision,
        answers.Act(action="accept", text="a boat", person=bench.person, now=NOW),
    )
    assert (done.state, done.comments[0].text) == ("accepted", "a boat")
    assert derived(bench.session) == before
    again = answers.decide(
        bench.session,
        item.key,
        done.revision,
        answers.Act(action="reopen", text="no boat there", person=bench.person, now=NOW),
    )
    assert again.state == "open"


def test_the_second_of_two_people_sees_the_first(
    bench: Bench, a_person: Callable[..., Person]
) -> None:
    item = spiked(bench)
    other = a_person("Second", "office")
    answers.decide(
        bench.session,
        item.key,
        0,
        answers.Act(action="comment", text="look", person=bench.person, now=NOW),
    )
    bench.session.commit()
    with pytest.raises(ChangedMeanwhile) as refused:
        answers.decide(
            bench.session, item.key, 0, answers.Act(action="accept", text="", person=other, now=NOW)
        )
    assert bench.person.name in refused.value.rule
    assert refused.value.now["text"] == "look"
    found = bench.session.exec(select(ReviewDecision)).all()
    assert [row.text for row in found] == ["look"]
    done = answers.decide(
        bench.session, item.key, 1, answers.Act(action="accept", text="", person=other, now=NOW)
    )
    assert [c.by for c in done.comments] == [bench.person.name, "Second"]


def test_two_people_moving_a_month_at_once(bench: Bench) -> None:
    move(bench, "2025-07", "reviewed", 0)
    with pytest.raises(ChangedMeanwhile):
        move(bench, "2025-07", "reviewed", 0)
    assert len(bench.session.exec(select(MonthState)).all()) == 1


def test_steps_and_decisions_are_append_only(bench: Bench) -> None:
    move(bench, "2025-07", "reviewed", 0)
    row = bench.session.exec(select(MonthState)).one()
    row.state = "approved"
    bench.session.add(row)
    with pytest.raises(DatabaseError, match="append-only"):
        bench.session.flush()
    bench.session.rollback()


def test_refused_and_rival_records_are_in_the_queue(bench: Bench) -> None:
    first = a_reading(bench.structure, bench.person, 0.2)
    one, two = (
        a_reading(bench.structure, bench.person, staff, corrects=first["id"], reason="misread")
        for staff in (0.21, 0.22)
    )
    broken = a_reading(bench.structure, bench.person, 0.2) | {"kind": "rumour"}
    send(bench.session, bench.person, first, one, two, broken)
    kinds = review_queue.counts(bench.session, bench.site_id)
    assert kinds["refused"] == 1
    assert kinds["rival"] == 1
    item = next(i for i in review_queue.queue(bench.session) if i.kind == "refused")
    answers.decide(
        bench.session,
        item.key,
        0,
        answers.Act(action="return", text="ask Ines", person=bench.person, now=NOW),
    )
    bench.session.commit()
    assert "refused" not in review_queue.counts(bench.session)


def test_what_is_not_there_is_not_decided(bench: Bench) -> None:
    for key in ("fault:1:head:spike:5", "offer:sensor:1:2:3", "nonsense", "refused:x", "fault:::"):
        with pytest.raises(NotFound):
            answers.decide(
                bench.session,
                key,
                0,
                answers.Act(action="accept", text="", person=bench.person, now=NOW),
            )
    with pytest.raises(BadInput):
        review_queue.queue(bench.session, state="forgotten")
