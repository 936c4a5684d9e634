"""Take the rows of a sheet in: on the road of every entry, a receipt a row, in the order sent."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.errors import BadInput
from app.language.words import counted
from app.records.audit import write_audit
from app.records.people import Person
from app.services.books.batches import batch_in_use, sender
from app.services.books.gaugings import look_at_gaugings
from app.services.books.preview import HELD, READY, REFUSED, Look, look, told
from app.services.books.sheet import GAUGINGS, READINGS, Row, Sheet
from app.services.sync import accept as sync

STORED = "stored"
LOOKS = {READINGS: look, GAUGINGS: look_at_gaugings}
TAKEN = "taken from a book"


def take_in(
    session: Session,
    structure_id: int,
    sheet: Sheet,
    rows: Sequence[Row],
    person: Person,
    now: datetime,
    *,
    of: str = READINGS,
) -> tuple[Look, list[dict[str, Any]]]:
    """Store every row that is ready, and return what became of each.

    A row that is refused or asks keeps no other from being stored. Rows stored before, from this
    sheet or from anywhere, are on record and not stored again.
    """
    sheet = batch_in_use(session, sheet)
    found = LOOKS[of](session, structure_id, sheet, rows, person, now)
    answers = [told(found, one) for one in found.rows]
    ready = [place for place, one in enumerate(found.rows) if one.state == READY]
    stored = 0
    for begin in range(0, len(ready), sync.MOST_ENTRIES):
        places = ready[begin : begin + sync.MOST_ENTRIES]
        batch = sync.Batch(sender(sheet.batch), None, [found.rows[place].entry for place in places])
        receipts = sync.accept(session, person, batch, now)
        for place, receipt in zip(places, receipts, strict=True):
            stored += receipt.state == "stored"
            _note(answers[place], receipt)
    if stored:
        write_audit(
            session,
            person.id,
            TAKEN,
            "structure",
            structure_id,
            after={
                "rows": counted(stored, of.removesuffix("s")),
                "book": sheet.name,
                "batch": sheet.batch,
            },
        )
        session.commit()
    return found, answers


def _note(answer: dict[str, Any], receipt: sync.Receipt) -> None:
    if receipt.error is not None:
        answer["state"] = REFUSED
        answer["faults"] = [fault.as_dict() for fault in receipt.error.faults]
    else:
        answer["state"] = STORED if receipt.state == "stored" else HELD
        seen = set(answer["notes"])
        answer["notes"] += [note for note in receipt.notes if note not in seen]


def refuse_nothing(rows: Sequence[Row]) -> None:
    """Refuse a sheet without a row."""
    if not rows:
        raise BadInput("rows", "", "no row holds anything", "Paste or type the readings first.")
