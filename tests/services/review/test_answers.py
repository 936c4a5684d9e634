"""Several items at once: one reason, one transaction, a row and a line of the trail for each."""

from collections.abc import Callable
from datetime import timedelta

import numpy as np
import pytest
from sqlmodel import Session, select

from app.errors import BadInput
from app.language.forms import ChangedMeanwhile
from app.records.people import Person
from app.records.review import ReviewDecision
from app.records.sites import Structure
from app.services.corrections import decisions
from app.services.corrections import layers as corrections
from app.services.days import daily
from app.services.review import answers, approval, trail
from app.services.review.items import QueueItem
from tests.builders.record_files import NOW, Bench
from tests.builders.review_items import a_spiked_bench, act, picked, spikes
from tests.services.review.test_bulk import statements


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    return a_spiked_bench(session, a_site, a_person)


def test_one_reason_for_all_and_a_row_and_a_line_of_the_trail_for_each(bench: Bench) -> None:
    done = answers.decide_all(bench.session, picked(spikes(bench)), act(bench))
    bench.session.commit()
    assert [one.refused for one in done] == [None] * 4
    assert spikes(bench) == []
    rows = bench.session.exec(select(ReviewDecision)).all()
    assert {(row.action, row.text, row.at) for row in rows} == {("accept", "birds", NOW)}
    assert len({row.item_key for row in rows}) == len(rows) == 4
    lines = [x for x in trail.audit(bench.session) if x.action == "item accepted"]
    assert {line.reason for line in lines} == {"birds"}
    assert {dict(line.about)["item"] for line in lines} == {row.item_key for row in rows}
    assert {line.changed[0] for line in lines} == {("state", "open", "accepted")}


def test_what_is_gone_or_answered_meanwhile_is_named_and_the_rest_goes_through(
    bench: Bench, a_person: Callable[..., Person]
) -> None:
    items = spikes(bench)
    asked = {**picked(items), "fault:1:head:spike:7": 0}
    other = a_person("Second", "office")
    answers.decide(
        bench.session, items[0].key, 0, act(bench, "return", "not so fast", person=other)
    )
    bench.session.commit()
    done = answers.decide_all(bench.session, asked, act(bench))
    bench.session.commit()
    refused = {one.key: one.refused for one in done if one.refused}
    assert set(refused) == {items[0].key, "fault:1:head:spike:7"}
    assert isinstance(refused[items[0].key], ChangedMeanwhile)
    assert "Second returned it" in refused[items[0].key].rule
    assert "not so fast" in refused[items[0].key].rule
    assert isinstance(refused["fault:1:head:spike:7"], answers.Gone)
    assert {x.key for x in spikes(bench, "accepted")} == {x.key for x in items[1:]}
    assert [x.key for x in spikes(bench, "returned")] == [items[0].key]


def test_an_approved_month_forbids_a_correction_and_the_others_are_laid(bench: Bench) -> None:
    july = [x for x in spikes(bench) if f"{x.from_at:%m}" == "07"]
    answers.decide_all(bench.session, picked(july), act(bench))
    for step, revision in (("reviewed", 0), ("approved", 1)):
        approval.move(
            bench.session, bench.id, "2025-07", step, bench.person, NOW, revision=revision
        )
    bench.session.commit()
    before = daily.daily(bench.session, bench.id)[:31]
    again = [x for x in spikes(bench, "all") if x.key in picked(july)]
    asked = picked(again[:1]) | picked(spikes(bench))
    with pytest.raises(BadInput, match="accepted already"):
        answers.decide(bench.session, again[0].key, 1, act(bench, with_correction=True))
    later = act(bench, with_correction=True, now=NOW + timedelta(hours=1))
    done = answers.decide_all(bench.session, asked, later)
    bench.session.commit()
    assert [one.refused is None for one in done].count(True) == 2
    assert len(corrections.layers(bench.session, bench.id)) == 2
    assert daily.daily(bench.session, bench.id)[:31] == before
    with pytest.raises(BadInput, match="Open the month again"):  # an approval rests on it
        answers.decide(bench.session, again[0].key, 1, act(bench, "reopen", "a doubt"))


def test_a_correction_of_an_approved_month_is_named(bench: Bench) -> None:
    found = spikes(bench)
    july = [x for x in found if f"{x.from_at:%m}" == "07"]
    answers.decide_all(bench.session, picked(july), act(bench, "return", "look there"))
    for step, revision in (("reviewed", 0), ("approved", 1)):
        approval.move(
            bench.session, bench.id, "2025-07", step, bench.person, NOW, revision=revision
        )
    bench.session.commit()
    asked = picked([x for x in spikes(bench, "all") if x.key in picked(found)])
    done = answers.decide_all(bench.session, asked, act(bench, with_correction=True))
    bench.session.commit()
    refused = {one.key: one.refused for one in done if one.refused}
    assert set(refused) == {x.key for x in july}
    assert all(one and one.field == "month" for one in refused.values())
    assert {x.key for x in spikes(bench, "returned")} == {x.key for x in july}  # as it was


@pytest.mark.parametrize(
    ("action", "text", "says"),
    [
        ("accept", " ", "at once need a reason"),
        ("return", "", "this is needed"),
        ("undo", "so", "one of accept"),
        ("forget", "so", "one of accept"),
    ],
)
def test_what_cannot_be_answered_writes_nothing(
    bench: Bench, action: str, text: str, says: str
) -> None:
    with pytest.raises(BadInput, match=says):
        answers.decide_all(bench.session, picked(spikes(bench)), act(bench, action, text))
    with pytest.raises(BadInput, match="none is selected"):
        answers.decide_all(bench.session, {}, act(bench))
    many = {f"fault:1:head:spike:{k}": 0 for k in range(answers.MOST + 1)}
    with pytest.raises(BadInput, match="at most"):
        answers.decide_all(bench.session, many, act(bench))
    assert bench.session.exec(select(ReviewDecision)).all() == []


def test_many_are_read_together(bench: Bench) -> None:
    """Four items take no more statements to be read than one; each then has its own rows."""

    def asked(items: list[QueueItem]) -> int:
        made = statements(
            bench.session,
            lambda session: answers.decide_all(session, picked(items), act(bench)),
        )
        bench.session.rollback()
        return made

    items = spikes(bench)
    one, four = asked(items[:1]), asked(items)
    written = 7  # two savepoints, the answer, the line of the trail; none of them reads
    assert four - one <= 3 * written


def test_two_offers_in_one_act_are_judged_one_after_the_other(bench: Bench) -> None:
    """An act that lays corrections looks again after each: no item is corrected twice."""
    items = spikes(bench)
    done = answers.decide_all(bench.session, picked(items), act(bench, with_correction=True))
    bench.session.commit()
    laid = corrections.layers(bench.session, bench.id)
    assert len(laid) == sum(one.refused is None for one in done) == 4
    assert np.all([layer.reason == "birds" for layer in laid])
    assert len({layer.from_at for layer in laid}) == 4


def test_an_answer_that_came_between_look_and_write_costs_only_its_own_item(bench: Bench) -> None:
    """The pair of item and revision is unique: the second of two rows is refused, alone."""
    first, second = spikes(bench)[:2]
    row = {"site_id": bench.site_id, "action": "accept", "person": bench.person, "now": NOW}
    decisions.add(bench.session, first.key, text="mine", revision=0, **row)
    decisions.add(bench.session, second.key, text="mine", revision=0, **row)
    with pytest.raises(ChangedMeanwhile, match="accepted it while you looked at it"):
        decisions.add(bench.session, first.key, text="late", revision=0, **row)
    bench.session.commit()
    kept = decisions.history(bench.session, [first.key, second.key])
    assert [row.text for rows in kept.values() for row in rows] == ["mine", "mine"]
