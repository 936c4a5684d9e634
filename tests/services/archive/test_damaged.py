"""What is damaged, cut, changed or newer is refused with the place, and nothing is stored."""

import io
import json
import random
import struct
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from sqlmodel import Session

from app.errors import BadInput
from app.records.database import open_engine
from app.records.people import Person
from app.records.sites import Structure
from app.services.archive import contents, take_in
from app.services.archive.check import check
from app.services.archive.opened import opened
from tests.builders.archives import (
    LATER,
    archived,
    members_of,
    packed,
    small_record,
    told,
    with_row,
)
from tests.builders.fresh import Fresh

MANY = 2100
Members = dict[str, bytes]


@pytest.fixture
def database_url(tmp_path: Path) -> str:
    """Nothing here comes to a database but by way of the same rows."""
    return f"sqlite:///{tmp_path / 'test.sqlite3'}"


@pytest.fixture
def whole(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> bytes:
    small_record(session, a_site, a_person, days=1)
    session.rollback()
    return archived(session.get_bind())  # type: ignore[arg-type]


def looked_through(archive: bytes, schema: str) -> BadInput | None:
    """Return why an archive is refused, None where it is not."""
    try:
        with opened(io.BytesIO(archive)) as found:
            check(found, schema, lengths=True)
    except BadInput as error:
        return error
    return None


def set_to(**cells: Any) -> Callable[[dict[str, Any]], None]:
    return lambda row: row.update(cells)


def bomb(members: Members) -> bytes:
    """Return an archive with a photo of 300 MB of noughts, which pack into 0.3 MB."""
    content = bytes(300 * 1024 * 1024)
    return packed(told({**members, f"originals/{'a' * 64}": content}))


def lying(members: Members) -> bytes:
    """Return one whose zip says that a member is some bytes, and that holds 64 MB."""
    name = "lists/people.csv"
    held = packed({**members, name: bytes(64 * 1024 * 1024)})
    central = held.rindex(b"PK\x01\x02", 0, held.rindex(name.encode()))
    return held[: central + 24] + struct.pack("<I", len(members[name])) + held[central + 28 :]


def twice(members: Members) -> bytes:
    held = io.BytesIO(packed(members))
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(held, "a") as made:
        made.writestr("README.txt", b"another")
    return held.getvalue()


def renamed(members: Members, old: str, new: str) -> bytes:
    return packed({new if name == old else name: x for name, x in members.items()})


def counted(members: Members, table: str, by: int) -> bytes:
    counts = json.loads(members["manifest.json"])["counts"]
    return packed(told(members, counts={**counts, table: counts[table] + by}))


# What somebody did to the archive, the place that is named, and words of the rule.
CHANGES: tuple[tuple[Callable[[Members], bytes], str, str], ...] = (
    (lambda m: packed(told(m, version=2)), "manifest.json, version", "this release reads form 1"),
    (lambda m: packed(told(m, version=True)), "manifest.json, version", "whole number"),
    (lambda m: packed(told(m, format="other")), "manifest.json, format", "not sillbook-archive"),
    (lambda m: packed(told(m, schema="9999")), "manifest.json, schema", "another release"),
    (lambda m: packed(told(m, more=1)), "manifest.json, more", "no field"),
    (lambda m: packed(told(m, counts=[])), "manifest.json, counts", "not an object"),
    (lambda m: packed(m | {"manifest.json": b"[" * 100_000}), "manifest.json", "not JSON"),
    (lambda m: counted(m, "entry", 1), "rows/entry.jsonl", "the manifest counts 3"),
    (lambda m: counted(m, "site", -1), "rows/site.jsonl", "the manifest counts 0"),
    (lambda m: packed({k: m[k] for k in m if k != "manifest.json"}), "", "no manifest.json"),
    (lambda m: packed({k: m[k] for k in m if "rating." not in k}), "rows/rating.jsonl",
     "not there"),
    (lambda m: packed(m | {"rows/spell.jsonl": b""}), "rows/spell.jsonl", "does not name"),
    (lambda m: packed(told(m | {"rows/spell.jsonl": b""})), "rows/spell.jsonl", "no such table"),
    (lambda m: packed(told(m | {f"originals/{'a' * 64}": b"x"})), "originals/aaa", "no row"),
    (twice, "README.txt", "twice"),
    (lambda m: renamed(m, "README.txt", "../README.txt"), "", "no name of a file"),
    (lambda m: renamed(m, "README.txt", "/etc/passwd"), "", "no name of a file"),
    (lambda m: renamed(m, "README.txt", "rows/../../x.jsonl"), "", "no name of a file"),
    (bomb, "", "out of proportion"),
    (lying, "lists/people.csv", ""),
    (lambda m: packed(with_row(m, "entry", set_to(by_id=7))), "rows/entry.jsonl, line 1, by_id",
     "no such row in rows/person.jsonl"),
    (lambda m: packed(with_row(m, "entry", set_to(observed_at="2026-02-30T00:00:00Z"), 2)),
     "rows/entry.jsonl, line 2, observed_at", "not an instant"),
    (lambda m: packed(with_row(m, "entry", set_to(observed_at="2026-02-20T00:00:00"))),
     "rows/entry.jsonl, line 1, observed_at", "not an instant"),
    (lambda m: packed(with_row(m, "entry", set_to(id=None))), "rows/entry.jsonl, line 1, id",
     "this is needed"),
    (lambda m: packed(with_row(m, "entry", set_to(id="z" * 50), 2)), "rows/entry.jsonl, line 2, id",
     "at most 36"),
    (lambda m: packed(with_row(m, "entry", set_to(id="0"), 2)), "rows/entry.jsonl, line 2, id",
     "not above"),
    (lambda m: packed(with_row(m, "entry", lambda row: row.pop("body"))),
     "rows/entry.jsonl, line 1, body", "missing"),
    (lambda m: packed(with_row(m, "person", set_to(password_hash="x"))),
     "rows/person.jsonl, line 1, password_hash", "no field"),
    (lambda m: packed(with_row(m, "person", set_to(role="king"))),
     "rows/person.jsonl, line 1, role", "not one of"),
    (lambda m: packed(with_row(m, "person", set_to(active=1))),
     "rows/person.jsonl, line 1, active", "true or false"),
    (lambda m: packed(with_row(m, "site", set_to(id=2**31))), "rows/site.jsonl, line 1, id",
     "whole number"),
    (lambda m: packed(with_row(m, "site", set_to(latitude="north"))),
     "rows/site.jsonl, line 1, latitude", "a number"),
    (lambda m: packed(with_row(m, "site", set_to(name="a\0b"))),
     "rows/site.jsonl, line 1, name", "a text"),
    (lambda m: packed(with_row(m, "logger_block", set_to(times="%%%"))),
     "rows/logger_block.jsonl, line 1, times", "base64"),
    (lambda m: packed(with_row(m, "kept_file", set_to(sha256="b" * 64))), "originals/bbb",
     "not there"),
    (lambda m: packed(told(m | {"rows/site.jsonl": b"\xff\n"})), "rows/site.jsonl, line 1",
     "not a line of JSON"),
    (lambda m: packed(told(m | {"rows/site.jsonl": b"[1]\n"})), "rows/site.jsonl, line 1",
     "not a row"),
    (lambda m: packed(told(m | {"rows/site.jsonl": m["rows/site.jsonl"].rstrip()})),
     "rows/site.jsonl, line 1", "the line is cut"),
    (lambda m: b"PK not a zip", "", "not a whole zip"),
)  # fmt: skip


def test_what_was_changed_is_named(whole: bytes) -> None:
    members = members_of(whole)
    schema = json.loads(members["manifest.json"])["schema"]
    assert looked_through(whole, schema) is None
    assert looked_through(packed(told(members)), schema) is None, "packed anew by anybody"
    for number, (change, place, rule) in enumerate(CHANGES):
        error = looked_through(change(members), schema)
        assert error is not None, (number, place)
        assert str(error.value).startswith(place), (number, error)
        assert rule in error.rule, (number, error)
        assert error.remedy, number


def damaged(whole: bytes, members: Members, rng: random.Random) -> Iterator[bytes]:
    """Yield archives with flipped bits, cut, or with members swapped or spoiled."""
    names = sorted(members)
    sent = [name for name in names if name.startswith(("rows/", "lists/", "originals/"))]
    full = [name for name in sent if members[name]]
    while True:
        spoiled = bytearray(whole)
        for _ in range(rng.choice((1, 1, 2, 8))):
            spoiled[rng.randrange(len(spoiled))] ^= 1 << rng.randrange(8)
        yield bytes(spoiled)
        yield whole[: rng.randrange(len(whole))]
        begin = rng.randrange(len(whole))
        yield whole[:begin] + whole[begin + rng.randrange(1, 400) :]
        one, other = rng.sample(full, 2)
        if members[one] != members[other]:
            yield packed({**members, one: members[other], other: members[one]})
        content = bytearray(members[one])
        content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
        yield packed({**members, one: bytes(content)})
        yield packed({name: members[name] for name in names if name != one})


def test_thousands_of_damaged_archives_are_refused(whole: bytes) -> None:
    """Refused with a place; or what was flipped is nothing that any byte of content rests on."""
    members = members_of(whole)
    schema = json.loads(members["manifest.json"])["schema"]
    refused = 0
    for number, archive in enumerate(damaged(whole, members, random.Random(11)), 1):
        error = looked_through(archive, schema)
        if error is None:
            with opened(io.BytesIO(archive)) as found:
                held = {name: b"".join(found.blocks(name)) for name in found.manifest.files}
            assert held == {k: v for k, v in members.items() if k != "manifest.json"}
        else:
            refused += 1
            assert error.value == "" or str(error.value).split(",")[0] in members, error
        if number == MANY:
            break
    assert refused > 0.9 * MANY, refused


def test_nothing_is_stored_of_what_is_refused(whole: bytes, fresh: Fresh, tmp_path: Path) -> None:
    """Refused while it is read, while it is stored, and when the services work with it."""
    members = members_of(whole)
    url = f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    fresh.make(url)
    engine = open_engine(url)
    cases = (
        (whole[:-30], "", ""),
        (packed(with_row(members, "flow_value", set_to(head_m="x"))), "rows/flow_value.jsonl", ""),
        (packed(with_row(members, "rating", set_to(family="spell"))), "", "family"),
        (packed(with_row(members, "logger_block", set_to(times="AAAA"))), "", "worked with"),
    )
    for archive, place, rule in cases:
        with Session(engine) as session:
            with pytest.raises(BadInput) as caught:
                take_in.take_in(session, io.BytesIO(archive), LATER)
            session.rollback()
            assert str(caught.value.value).startswith(place)
            assert rule in caught.value.rule
            for table in contents.tables():
                assert not session.execute(sa.select(table).limit(1)).first(), table.name
    with Session(engine) as session:
        take_in.take_in(session, io.BytesIO(whole), LATER)
        session.commit()
    engine.dispose()
