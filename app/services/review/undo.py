"""The last answer of a person, of one item or of several, and taking it back: rows that say so.

Nothing is deleted: the answer stays with its words, a row after it says that it does not count.
A correction that it laid is taken back with it.
"""

from collections import Counter
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language.words import counted
from app.records.people import Person
from app.records.review import ReviewDecision
from app.records.sensors import CorrectionLayer, LayerWithdrawal
from app.services.corrections import decisions
from app.services.corrections import layers as corrections
from app.services.days.state import refuse_if_approved_since
from app.services.review.answers import Act, Answer, settle, some_done, write_trail
from app.services.review.items import KINDS, QueueItem
from app.services.review.queue import items_of

OFFERED_FOR = timedelta(hours=12)  # common practice: a working day; later it is opened again
DID = {
    "accept": "Accepted",
    "return": "Returned",
    "reopen": "Opened again",
    decisions.UNDO: "Took back the answer",
}
REASON = "the answer in review was taken back"


@dataclass(frozen=True, kw_only=True)
class LastAct:
    """What a person answered last; `left` are the items whose answer can still be taken back."""

    id: int
    action: str
    at: datetime
    text: str
    rows: tuple[ReviewDecision, ...]
    left: tuple[str, ...]

    @property
    def things(self) -> str:
        """Return what was answered, counted by kind, such as 16 drowned stretches."""
        kinds = Counter(row.item_key.partition(":")[0] for row in self.rows)
        return ", ".join(counted(n, *KINDS[kind]) for kind, n in kinds.items() if kind in KINDS)

    @property
    def words(self) -> str:
        """Return what was done, such as: Accepted 16 drowned stretches."""
        return f"{DID[self.action]}: {self.things}"


def last_act(session: Session, person: Person, now: datetime) -> LastAct | None:
    """Return what a person answered last, comments aside; None after a working day."""
    newest = session.exec(
        select(ReviewDecision)
        .where(ReviewDecision.by_id == person.id, ReviewDecision.action != "comment")
        .order_by(col(ReviewDecision.id).desc())
        .limit(1)
    ).first()
    if newest is None or newest.id is None or now - newest.at > OFFERED_FOR:
        return None
    rows = tuple(
        session.exec(
            select(ReviewDecision)
            .where(
                ReviewDecision.by_id == person.id,
                ReviewDecision.action == newest.action,
                ReviewDecision.at == newest.at,
            )
            .order_by(col(ReviewDecision.item_key))
        )
    )
    known = decisions.history(session, [row.item_key for row in rows])
    standing = {k: kept[-1].id for k, found in known.items() if (kept := decisions.in_force(found))}
    return LastAct(
        id=newest.id,
        action=newest.action,
        at=newest.at,
        text=newest.text,
        rows=rows,
        left=tuple(row.item_key for row in rows if standing.get(row.item_key) == row.id),
    )


def take_back(session: Session, act_id: int, person: Person, now: datetime) -> list[Answer]:
    """Take the last answer of a person back, item by item, in one transaction.

    Raises
    ------
    BadInput
        When it is not the person's last answer any more, or nothing of it can be taken back.
    """
    last = last_act(session, person, now)
    if last is None or last.id != act_id or last.action == decisions.UNDO:
        raise BadInput(
            "answer",
            "",
            "it is not your last answer any more, or is older than a working day",
            "Show the answered items and open the ones you mean again, with a reason.",
        )
    act = Act(action=decisions.UNDO, text="", person=person, now=now)
    known = decisions.history(session, [row.item_key for row in last.rows])
    found = items_of(session, [row.item_key for row in last.rows])
    answers = []
    for row in last.rows:
        item = found.get(row.item_key)
        try:
            with session.begin_nested():
                item = _take_back(session, row, known[row.item_key], item, act)
            answers.append(Answer(key=row.item_key, item=item))
        except BadInput as refused:
            answers.append(Answer(key=row.item_key, item=item, refused=refused))
    return some_done(answers)


def _take_back(
    session: Session,
    row: ReviewDecision,
    known: list[ReviewDecision],
    item: QueueItem | None,
    act: Act,
) -> QueueItem:
    kept = decisions.in_force(known)
    if not kept or kept[-1].id != row.id:
        raise decisions.meanwhile(session, row.item_key)
    settle(session, row.item_key, settled=False)
    layer_id = _layer_of(session, row)
    if layer_id is not None:
        corrections.withdraw_layer(session, layer_id, REASON, act.person, act.now)
    if layer_id is not None or item is None:
        session.flush()
        item = items_of(session, [row.item_key]).get(row.item_key)
    if item is None:
        raise BadInput(
            "item", "", "it is no longer in the queue", "There is nothing left to take back."
        )
    if item.structure_id is not None:
        refuse_if_approved_since(session, item.structure_id, item.from_s, item.to_s, row.at)
    decisions.add(
        session,
        row.item_key,
        site_id=row.site_id,
        action=decisions.UNDO,
        text="",
        person=act.person,
        now=act.now,
        revision=known[-1].revision,
    )
    before = decisions.ACTIONS[kept[-2].action] if len(kept) > 1 else "open"
    write_trail(session, replace(item, state=decisions.ACTIONS[row.action]), act, before)
    return item


def _layer_of(session: Session, row: ReviewDecision) -> int | None:
    """Return the correction that an answer laid, where it still lies."""
    taken_back = select(LayerWithdrawal.layer_id)
    return session.exec(
        select(CorrectionLayer.id).where(
            CorrectionLayer.offer_key == row.item_key.removeprefix("offer:"),
            CorrectionLayer.by_id == row.by_id,
            CorrectionLayer.at == row.at,
            col(CorrectionLayer.id).not_in(taken_back),
        )
    ).first()
