"""What people decided about items of the review queue: the newest decision of each item counts."""

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.language.forms import ChangedMeanwhile
from app.records.people import Person
from app.records.review import ReviewDecision
from app.services.sites.changes import names_of

ACTIONS = {"accept": "accepted", "return": "returned", "comment": "", "reopen": "open"}
BLOCK = 400


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


def newest(session: Session, keys: Sequence[str]) -> dict[str, ReviewDecision]:
    """Return the newest decision of each item that is more than a comment."""
    return {
        key: decided[-1]
        for key, rows in history(session, keys).items()
        if (decided := [row for row in rows if row.action != "comment"])
    }


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
    """Add a decision, if nobody decided since `revision` was looked at.

    Raises
    ------
    BadInput
        For an unknown action, or an answer without words where they are needed.
    ChangedMeanwhile
        When somebody else decided; nothing is written.
    """
    text = text.strip()[:2000]
    if action not in ACTIONS:
        raise BadInput("action", action[:20], f"one of {', '.join(ACTIONS)}", "Choose one.")
    if action in ("return", "comment", "reopen") and not text:
        raise BadInput("text", "", "this is needed", "Say why, for whoever reads it later.")
    before = session.execute(
        sa.select(sa.func.max(col(ReviewDecision.revision))).where(
            col(ReviewDecision.item_key) == key
        )
    ).scalar()
    if int(before or 0) != revision:
        raise meanwhile(session, key)
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
    session.add(row)
    try:
        session.flush()
    except IntegrityError:  # the other answer came between look and write
        session.rollback()
        raise meanwhile(session, key) from None
    return row


def meanwhile(session: Session, key: str) -> ChangedMeanwhile:
    last = history(session, [key]).get(key, [])
    who = names_of(session).get(last[-1].by_id, "") if last else ""
    now = {"action": last[-1].action, "text": last[-1].text} if last else {}
    return ChangedMeanwhile("item", now, who or "Somebody else")
