"""What people decided about items of the review queue: the newest decision of each item counts."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language.forms import ChangedMeanwhile
from app.records.people import Person
from app.records.review import ReviewDecision
from app.services.sites.changes import names_of

ACTIONS = {"accept": "accepted", "return": "returned", "comment": "", "reopen": "open"}
UNDO = "undo"  # takes the answer before it back; both rows stay
SAID = {  # after the name of who did it
    "accept": "accepted it",
    "return": "returned it",
    "comment": "commented on it",
    "reopen": "opened it again",
    UNDO: "took the answer back",
}
BLOCK = 400


class AnsweredMeanwhile(ChangedMeanwhile):
    """Somebody else answered the item while this person looked at it."""

    def __init__(self, who: str, action: str, text: str) -> None:
        words = f", with the words “{text}”" if text else ""
        rule = f"{who} {SAID.get(action, 'answered it')} while you looked at it{words}"
        remedy = "Read that answer, and answer again if yours is to stand."
        BadInput.__init__(self, "item", "", rule, remedy)
        self.now = {"action": action, "text": text} if action else {}


def history(session: Session, keys: Sequence[str]) -> dict[str, list[ReviewDecision]]:
    """Return all decisions of some items, oldest first."""
    found: dict[str, list[ReviewDecision]] = {}
    for start in range(0, len(keys), BLOCK):
        for row in session.exec(
            select(ReviewDecision)
            .where(col(ReviewDecision.item_key).in_(keys[start : start + BLOCK]))
            .order_by(col(ReviewDecision.id))
        ):
            found.setdefault(row.item_key, []).append(row)
    return found


def in_force(rows: Sequence[ReviewDecision]) -> list[ReviewDecision]:
    """Return the answers of one item that were not taken back, without comments, oldest first."""
    kept: list[ReviewDecision] = []
    for row in rows:
        if row.action == UNDO:
            kept = kept[:-1]
        elif row.action != "comment":
            kept.append(row)
    return kept


def newest(session: Session, keys: Sequence[str]) -> dict[str, ReviewDecision]:
    """Return the newest answer of each item that is in force."""
    return {
        key: answers[-1]
        for key, rows in history(session, keys).items()
        if (answers := in_force(rows))
    }


def check(action: str, text: str) -> str:
    """Return the words of an answer, without outer blanks.

    Raises
    ------
    BadInput
        For an unknown action, or an answer without words where they are needed.
    """
    text = text.strip()[:2000]
    if action not in ACTIONS:
        raise BadInput("action", action[:20], f"one of {', '.join(ACTIONS)}", "Choose one.")
    if action in ("return", "comment", "reopen") and not text:
        raise BadInput("text", "", "this is needed", "Say why, for whoever reads it later.")
    return text


def add(
    session: Session,
    key: str,
    *,
    site_id: int | None,
    action: str,
    text: str,
    person: Person,
    now: datetime,
    revision: int,
) -> ReviewDecision:
    """Add an answer after the one numbered `revision`.

    Raises
    ------
    AnsweredMeanwhile
        When somebody else answered between look and write; nothing is written.
    """
    assert person.id is not None
    row = ReviewDecision(
        item_key=key,
        revision=revision + 1,
        site_id=site_id,
        action=action,
        text=text,
        by_id=person.id,
        at=now,
    )
    try:
        with session.begin_nested():
            session.add(row)
    except IntegrityError:
        raise meanwhile(session, key) from None
    return row


def meanwhile(session: Session, key: str) -> AnsweredMeanwhile:
    """Return the refusal that names who answered an item last, and how."""
    last = history(session, [key]).get(key, [])
    who = names_of(session).get(last[-1].by_id, "") if last else ""
    newest_row = (last[-1].action, last[-1].text) if last else ("", "")
    return AnsweredMeanwhile(who or "Somebody else", *newest_row)
