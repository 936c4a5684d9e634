"""The file a phone's outbox page saves goes through the same checks as a sync."""

import base64
import hashlib
import io
import json
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from sqlmodel import Session, select

from app.errors import BadInput
from app.records.entries import Entry
from app.records.files import KeptFile
from app.records.people import Person
from app.records.sites import Structure
from app.services.sync import outbox_file
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
    with pytest.raises(BadInput, match="nobody has this name"):
        outbox_file.take(session, file, "Nobody")


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"sillbook_outbox": 2}', '{"sillbook_outbox":1}']
)
def test_another_file_is_refused(session: Session, tmp_path: Path, text: str) -> None:
    file = tmp_path / "outbox.json"
    file.write_text(text)
    with pytest.raises(BadInput):
        outbox_file.take(session, file, None)


def a_picture() -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), (90, 120, 80)).save(out, "JPEG")
    return out.getvalue()


def a_photo(
    structure: Structure, person: Person, content: bytes, **extra: object
) -> dict[str, object]:
    sha256 = hashlib.sha256(content).hexdigest()
    entry = a_reading(structure, person, kind="photo", **extra)
    return {**entry, "body": {"sha256": sha256, "caption": "the tail", "bytes": len(content)}}


def carried(person: Person, content: bytes, **extra: object) -> dict[str, object]:
    return {
        "sha256": hashlib.sha256(content).hexdigest(),
        "kind": "photo",
        "name": "",
        "by": person.id,
        "base64": base64.b64encode(content).decode(),
        **extra,
    }


def written(tmp_path: Path, **content: object) -> Path:
    file = tmp_path / "outbox.json"
    file.write_text(json.dumps({"sillbook_outbox": 1, "entries": [], **content}))
    return file


def test_the_picture_comes_with_its_record(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    structure, ines = a_site(), a_person("Ines")
    picture = a_picture()
    photo = a_photo(structure, ines, picture)
    file = written(tmp_path, entries=[photo], files=[carried(ines, picture)])
    taken = outbox_file.take(session, file, None)
    assert [(one.state, one.notes) for one in taken] == [("stored", []), ("stored", [])]
    kept = session.get(KeptFile, hashlib.sha256(picture).hexdigest())
    assert kept is not None
    assert kept.by_id == ines.id
    again = outbox_file.take(session, file, None)
    assert [one.state for one in again] == ["already_held", "already_held"]


def test_a_picture_that_is_missing_is_said_to_be(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    structure, ines = a_site(), a_person("Ines")
    photo = a_photo(structure, ines, a_picture())
    [one] = outbox_file.take(session, written(tmp_path, entries=[photo]), None)
    assert one.state == "stored"
    assert "MISSING: the picture itself is not in this file" in one.notes[-1]


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        ({"base64": "no base64!"}, "cannot be read"),
        ({"base64": ""}, "it is empty"),
        ({"sha256": "0" * 64}, "do not match"),
        ({"kind": "tape"}, "not a kind of file"),
        ({"by": 999}, "no such person"),
    ],
)
def test_bytes_that_cannot_be_kept_are_refused_alone(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
    extra: dict[str, object],
    words: str,
) -> None:
    structure, ines = a_site(), a_person("Ines")
    reading, picture = a_reading(structure, ines), a_picture()
    bad = carried(ines, picture, **extra)
    file = written(tmp_path, entries=[reading], files=[bad, "junk", carried(ines, picture)])
    taken = outbox_file.take(session, file, None)
    assert [one.state for one in taken] == ["stored", "refused", "refused", "stored"]
    assert words in str(taken[1].error)


def test_each_line_names_kind_site_and_time(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    structure, ines = a_site(), a_person("Ines")
    reading = a_reading(structure, ines, observed_at="2026-11-24T20:15:00Z", utc_offset_min=720)
    odd = a_reading(structure, ines, observed_at="yesterday", site_id=10**30)
    taken = outbox_file.take(session, written(tmp_path, entries=[reading, odd]), None)
    first, second = ((one.kind, one.site, one.at, one.by) for one in taken)
    assert first[0] == "head_reading"
    assert first[1] not in ("", "site 1")
    assert first[2].startswith("2026-11-2")
    assert first[3] == "Ines"
    assert second[1:] == (f"site {10**30}", "time not readable", "Ines")
    assert taken[0].words.startswith("head reading, ")


def test_somebody_without_entries_is_told(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    structure, ines = a_site(), a_person("Ines")
    a_person("Tamsin")
    file = written(tmp_path, entries=[a_reading(structure, ines), a_reading(structure, ines)])
    with pytest.raises(BadInput, match=r"nothing of this person.*Ines \(2\)"):
        outbox_file.take(session, file, "Tamsin")
    with pytest.raises(BadInput, match="It holds no entries"):
        outbox_file.take(session, written(tmp_path), "Tamsin")
    assert outbox_file.take(session, written(tmp_path), None) == []
