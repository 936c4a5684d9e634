"""What people answer to items of the queue: one item, or several alike in one act with one reason.

Each item is answered for itself: one that is gone, that somebody answered meanwhile or whose
correction an approved month forbids is named, and the rest go through. Every answer is a row of its
own, with a line of the trail beside it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.language.forms import Form
from app.language.words import counted
from app.records.audit import write_audit
from app.records.entries import RefusedEntry
from app.records.people import Person
from app.services.corrections import decisions
from app.services.corrections import layers as corrections
from app.services.days.state import refuse_if_approved_since
from app.services.review.items import KINDS, QueueItem
from app.services.review.queue import item_of, items_of

MOST = 50  # items in one act: more than a page ever shows
TRAIL = {
    "accept": "item accepted",
    "return": "item returned",
    "comment": "item commented on",
    "reopen": "item opened again",
    decisions.UNDO: "answer to an item taken back",
}


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What became of one item of an act: `refused` says why it was left as it is."""

    key: str
    item: QueueItem | None
    refused: BadInput | None = None


class Gone(BadInput):
    """The item was put right while somebody looked at it."""

    def __init__(self) -> None:
        super().__init__("item", "", "it is no longer in the queue", "Somebody has put it right.")


class NothingDone(BadInput):
    """Each item of an act was refused: nothing is written, and every refusal is named."""

    def __init__(self, refused: Sequence[Answer]) -> None:
        first, *rest = [one.refused for one in refused if one.refused is not None]
        super().__init__(first.field, first.value, first.rule, first.remedy)
        self.more = tuple(rest)
        self.answers = tuple(refused)


def some_done(answers: list[Answer]) -> list[Answer]:
    """Return what became of the items of an act; raises NothingDone where each was refused."""
    if all(one.refused for one in answers):
        raise NothingDone(answers)
    return answers


@dataclass(frozen=True, kw_only=True)
class Act:
    """What one person does to some items at one time."""

    action: str
    text: str
    person: Person
    now: datetime
    with_correction: bool = False
    form: Form | None = None

    def adds(self, item: QueueItem) -> bool:
        """Tell whether answering this item lays a correction."""
        lays = self.with_correction or item.kind == "offer"
        return self.action == "accept" and lays and item.structure_id is not None


def decide(session: Session, key: str, revision: int, act: Act) -> QueueItem:
    """Answer one item.

    Accepting an offer adds its correction, or the one in `form` when it was edited. Accepting
    anything else says that it was seen and stands, unless `with_correction` adds the
    correction that the item carries.

    Raises
    ------
    NotFound
        When the item is no more.
    BadInput
        For an unknown action or missing words, and as `corrections.add_layer` does.
    ChangedMeanwhile
        When somebody answered since; nothing is written.
    """
    act = replace(act, text=decisions.check(act.action, act.text))
    item = item_of(session, key)
    _answer(session, item, revision, act)
    session.flush()
    try:
        return item_of(session, key)
    except NotFound:  # the correction has put it right
        state = decisions.ACTIONS[act.action] or item.state
        return replace(item, state=state, revision=revision + 1)


def decide_all(session: Session, picked: Mapping[str, int], act: Act) -> list[Answer]:
    """Answer several items, each with the revision it was seen at, in one transaction.

    Raises
    ------
    BadInput
        When none or too many are named, without the words that several need, or when each of them
        is refused (NothingDone).
    """
    act = replace(act, text=decisions.check(act.action, act.text))
    if not picked:
        raise BadInput("item", "", "none is selected", "Select the items that the answer is for.")
    if len(picked) > MOST:
        raise BadInput("item", len(picked), f"at most {MOST} at once", "Answer them in parts.")
    if len(picked) > 1 and not act.text:
        said = f"{counted(len(picked), 'item')} at once need a reason"
        raise BadInput("text", "", said, "Say why, once for all of them.")
    found = items_of(session, picked)
    answers = []
    for key in sorted(picked):  # one order for all, so that two acts wait and never cross
        item = found.get(key)
        try:
            if item is None:
                raise Gone
            with session.begin_nested():
                _answer(session, item, picked[key], act)
            answers.append(Answer(key=key, item=item))
            if act.adds(item):  # what it corrected may have put others of them right
                mine = [k for k, x in found.items() if x.structure_id == item.structure_id]
                left = items_of(session, mine)
                found = {k: x for k, x in found.items() if k not in mine} | left
        except BadInput as refused:
            answers.append(Answer(key=key, item=item, refused=refused))
    return some_done(answers)


def _answer(session: Session, item: QueueItem, revision: int, act: Act) -> None:
    if item.revision != revision:
        raise decisions.meanwhile(session, item.key)
    if decisions.ACTIONS[act.action] == item.state:
        again = f"it is {item.state} already" + (f", by {item.last_by}" if item.last_by else "")
        raise BadInput("item", item.title, again, "Leave it out, or look at its answers.")
    if act.action == "reopen" and item.structure_id is not None and item.last_at is not None:
        refuse_if_approved_since(session, item.structure_id, item.from_s, item.to_s, item.last_at)
    decisions.add(
        session,
        item.key,
        site_id=item.site_id,
        action=act.action,
        text=act.text,
        person=act.person,
        now=act.now,
        revision=revision,
    )
    if act.adds(item) and item.structure_id is not None:
        given = dict(act.form or item.form or {})
        if not given:
            raise BadInput("form", "", "this item carries no correction", "Write one yourself.")
        if act.text:
            given["reason"] = act.text
        corrections.add_layer(session, item.structure_id, given, act.person, act.now)
    if act.action != "comment":
        settle(session, item.key, settled=act.action != "reopen")
    write_trail(session, item, act, decisions.ACTIONS[act.action] or item.state)


def settle(session: Session, key: str, *, settled: bool) -> None:
    """Take a refused entry out of the queue, or put it back; other items are let be."""
    kind, _, sha256 = key.partition(":")
    row = session.get(RefusedEntry, sha256) if kind == "refused" else None
    if row is not None:
        row.settled = settled
        session.add(row)


def write_trail(session: Session, item: QueueItem, act: Act, after: str) -> None:
    """Write the line of the trail: which item, of what, its state before and after, and why."""
    if item.structure_id is not None:
        subject, subject_id = "structure", str(item.structure_id)
    elif item.site_id is not None:
        subject, subject_id = "site", str(item.site_id)
    else:
        subject, subject_id = "item", item.mark
    which: dict[str, Any] = {
        "item": item.key,
        "kind": KINDS[item.kind][0],
        "said": item.sentence,
        "from": item.from_at.isoformat(),
        "to": item.to_at.isoformat(),
    }
    write_audit(
        session,
        act.person.id,
        TRAIL[act.action],
        subject,
        subject_id,
        before={**which, "state": item.state},
        after={**which, "state": after},
        reason=act.text,
    )
