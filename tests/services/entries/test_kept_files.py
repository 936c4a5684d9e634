"""Files are kept by the hash of their bytes; photos lose their position on the way."""

import hashlib
import io
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from PIL import Image
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.records.people import Person
from app.services.entries import kept_files

NOW = datetime(2026, 11, 25, tzinfo=UTC)


def photo_with_position(size: tuple[int, int] = (3000, 1200)) -> bytes:
    picture = Image.new("RGB", size, (90, 120, 80))
    exif = Image.Exif()
    exif[0x0112] = 6  # turned by 90 degrees
    exif.get_ifd(0x8825)[2] = (43.0, 36.0, 7.0)  # latitude
    out = io.BytesIO()
    picture.save(out, "JPEG", exif=exif)
    return out.getvalue()


def digest(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def test_a_photo_is_upright_small_and_without_position(
    session: Session, a_person: Callable[..., Person]
) -> None:
    person, content = a_person(), photo_with_position()
    key = digest(content)
    assert (
        kept_files.keep(
            session,
            person,
            "photo",
            name="a.jpg",
            sent_sha256=key,
            content=content,
            received_at=NOW,
        )
        == "stored"
    )
    assert (
        kept_files.keep(
            session,
            person,
            "photo",
            name="a.jpg",
            sent_sha256=key,
            content=content,
            received_at=NOW,
        )
        == "already_held"
    )
    found = kept_files.kept(session, key)
    with Image.open(io.BytesIO(found.content)) as kept:
        assert kept.size == (819, 2048)
        assert not kept.getexif()
    assert found.sha256 == digest(found.content)


def test_a_logger_file_is_kept_to_the_byte(
    session: Session, a_person: Callable[..., Person]
) -> None:
    person, content = a_person(), b"\xff\xfet\0i\0m\0e\0"
    kept_files.keep(
        session,
        person,
        "logger_file",
        name="a.csv",
        sent_sha256=digest(content),
        content=content,
        received_at=NOW,
    )
    assert kept_files.kept(session, digest(content)).content == content


@pytest.mark.parametrize(
    ("kind", "content", "field"),
    [
        ("letter", b"x", "kind"),
        ("photo", b"", "file"),
        ("photo", b"no picture", "photo"),
        ("photo", photo_with_position()[:400], "photo"),
    ],
)
def test_what_cannot_be_kept_is_named(
    session: Session, a_person: Callable[..., Person], kind: str, content: bytes, field: str
) -> None:
    with pytest.raises(BadInput) as caught:
        kept_files.keep(
            session,
            a_person(),
            kind,
            name="x",
            sent_sha256=digest(content),
            content=content,
            received_at=NOW,
        )
    assert caught.value.field == field


def test_a_cut_transfer_is_noticed(session: Session, a_person: Callable[..., Person]) -> None:
    content = photo_with_position()
    with pytest.raises(BadInput, match="do not match"):
        kept_files.keep(
            session,
            a_person(),
            "photo",
            name="x",
            sent_sha256=digest(content),
            content=content[:-1],
            received_at=NOW,
        )
    with pytest.raises(NotFound):
        kept_files.kept(session, digest(content))
