"""The file a phone's outbox page saves goes through the same checks as a sync."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlmodel import Session, select

from app.errors import BadInput
from app.records.entries import Entry
from app.records.people import Person
from app.records.sites import Structure
from app.services import outbox_file
from tests.conftest import a_reading, send


def test_each_entry_counts_as_its_authors(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    structure, ines, tamsin = a_site(), a_person("Ines"), a_person("Tamsin")
    entries = [a_reading(structure, ines), a_reading(structure, tamsin)]
    stranger = a_reading(structure, ines, by=999)
    file = tmp_path / "outbox.json"
    content = {"sillbook_outbox": 1, "phone": "p", "entries": [*entries, stranger, "junk"]}
    file.write_text(json.dumps(content))
    states = sorted(r.state for r in outbox_file.take(session, file, None))
    assert states == ["refused", "refused", "stored", "stored"]
    held = {e.id: e.by_id for e in session.exec(select(Entry))}
    assert held == {entries[0]["id"]: ines.id, entries[1]["id"]: tamsin.id}
    # The phone sends them later all the same.
    assert [r.state for r in send(session, ines, entries[0])] == ["already_held"]


def test_one_persons_share(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    structure, ines, tamsin = a_site(), a_person("Ines"), a_person("Tamsin")
    file = tmp_path / "outbox.json"
    entries = [a_reading(structure, ines), a_reading(structure, tamsin)]
    file.write_text(json.dumps({"sillbook_outbox": 1, "entries": entries}))
    assert [r.id for r in outbox_file.take(session, file, "Tamsin")] == [entries[1]["id"]]
    with pytest.raises(BadInput, match="nobody active"):
        outbox_file.take(session, file, "Nobody")


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"sillbook_outbox": 2}', '{"sillbook_outbox":1}']
)
def test_another_file_is_refused(session: Session, tmp_path: Path, text: str) -> None:
    file = tmp_path / "outbox.json"
    file.write_text(text)
    with pytest.raises(BadInput):
        outbox_file.take(session, file, None)
