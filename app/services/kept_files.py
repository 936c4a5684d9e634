"""Keep what a phone or the office sends as a file: photos without their metadata, logger files.

A file is named by the hash of its bytes, so sending it twice is harmless and a cut transfer is
noticed.
"""

import hashlib
import io
import warnings
from datetime import datetime

from PIL import Image, ImageOps, UnidentifiedImageError
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.records.database import insert_new
from app.records.files import KeptFile
from app.records.people import Person

LARGEST = {"photo": 12 * 1024 * 1024, "logger_file": 64 * 1024 * 1024}
KIND_WORDS = {"photo": "photo", "logger_file": "logger file"}
TOO_LARGE = {
    "photo": "Send a smaller one: 12 megapixels show all that is needed.",
    "logger_file": "Split it: download or export a shorter time.",
}
PHOTO_PIXELS = 40_000_000  # refuse to unpack more: a small file can hold a huge picture
PHOTO_SIDE = 2048
PHOTO_QUALITY = 82


def keep(
    session: Session,
    person: Person,
    kind: str,
    name: str,
    sent_sha256: str,
    content: bytes,
    received_at: datetime,
) -> str:
    """Keep a file; return "stored" or "already_held".

    Raises
    ------
    BadInput
        When the kind is unknown, the file is too large or empty, its bytes do not match the
        hash, or a photo is no picture.
    """
    if kind not in LARGEST:
        raise BadInput("kind", kind, "not a kind of file", f"Use one of {', '.join(LARGEST)}.")
    if not content:
        raise BadInput(
            "file", name[:80], "it is empty: not one byte", "Download it again and choose that one."
        )
    if len(content) > LARGEST[kind]:
        limit = LARGEST[kind] // (1024 * 1024)
        raise BadInput(
            "file",
            f"{len(content)} bytes",
            f"a {KIND_WORDS[kind]} has at most {limit} MiB",
            TOO_LARGE[kind],
        )
    if hashlib.sha256(content).hexdigest() != sent_sha256:
        raise BadInput("sha256", sent_sha256, "the bytes do not match", "Send the file again.")
    stored, media_type = content, "application/octet-stream"
    if kind == "photo":
        stored, media_type = plain_photo(content), "image/jpeg"
    row = {
        "sent_sha256": sent_sha256,
        "sha256": hashlib.sha256(stored).hexdigest(),
        "kind": kind,
        "name": name.replace("\0", "")[:200],
        "media_type": media_type,
        "size": len(stored),
        "content": stored,
        "by_id": person.id,
        "received_at": received_at,
    }
    new = insert_new(session, KeptFile, [row], "sent_sha256")
    session.commit()
    return "stored" if new else "already_held"


def plain_photo(content: bytes) -> bytes:
    """Return a photo turned upright, at most 2048 pixels a side, without any metadata."""
    refusal = BadInput(
        "photo", f"{len(content)} bytes", "not a picture this server reads", "Take it again."
    )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(content), formats=["JPEG", "PNG", "WEBP"]) as picture:
                if picture.width * picture.height > PHOTO_PIXELS:
                    raise refusal
                upright = ImageOps.exif_transpose(picture).convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Warning) as error:
        raise refusal from error
    except Image.DecompressionBombError as error:
        raise refusal from error
    upright.thumbnail((PHOTO_SIDE, PHOTO_SIDE))
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=PHOTO_QUALITY)
    return out.getvalue()


def kept(session: Session, sent_sha256: str) -> KeptFile:
    """Return a kept file.

    Raises
    ------
    NotFound
        When the server holds no file under this hash.
    """
    found = session.get(KeptFile, sent_sha256)
    if found is None:
        raise NotFound(f"file {sent_sha256}")
    return found
