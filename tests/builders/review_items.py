"""A record with spikes, which review shows as several items alike, and answers to them."""

from collections.abc import Callable
from typing import Any

from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from app.services.review import answers
from app.services.review import queue as review_queue
from app.services.review.items import QueueItem
from tests.builders.record_files import NOW, Bench, a_bench, calm, log_text, times

SPIKES = (500, 1500, 3500, 4500)  # two in July, two in August of 2025


def a_spiked_bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    """Return a record of two months with four spikes."""
    made = a_bench(session, a_site, a_person)
    t = times(61)
    head = calm(t)
    head[list(SPIKES)] += 0.1
    made.take(log_text(t, head))
    assert len(spikes(made)) == len(SPIKES)
    return made


def spikes(bench: Bench, state: str = "open") -> list[QueueItem]:
    return [x for x in review_queue.queue(bench.session, state=state) if x.title == "spike"]


def picked(items: list[QueueItem]) -> dict[str, int]:
    """Return items as a form names them: key and the revision that was seen."""
    return {item.key: item.revision for item in items}


def act(bench: Bench, action: str = "accept", text: str = "birds", **more: Any) -> answers.Act:
    usual = {"action": action, "text": text, "person": bench.person, "now": NOW}
    return answers.Act(**usual | more)
