"""Keep what a phone or the office sends as a file: photos without their metadata, logger files.

A file is named by the hash of its bytes, so sending it twice is harmless and a cut transfer is
noticed.
"""

import hashlib
import io
import warnings
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime

from PIL import Image, ImageOps, UnidentifiedImageError
from sqlmodel import Session

from app.errors import BadInput, NotFound, TooLarge
from app.records.database import insert_new
from app.records.files import KeptFile
from app.records.people import Person

LOGGER_FILE = "logger_file"
LARGEST = {
    "photo": 12 * 1024 * 1024,
    LOGGER_FILE: 64 * 1024 * 1024,
    "certificate": 12 * 1024 * 1024,
}
KIND_WORDS = {"photo": "photo", "logger_file": "logger file", "certificate": "certificate"}
TOO_LARGE = {
    "photo": "Send a smaller one: 12 megapixels show all that is needed.",
    "logger_file": "Split it: download or export a shorter time.",
    "certificate": "Scan it at a lower resolution.",
}
# Pictures are unpacked one at a time, each takes up to some 300 MB; and always in one thread,
# because the allocator keeps what a thread gave back for that thread.
UNPACKING = ThreadPoolExecutor(1, thread_name_prefix="unpacking")
WHOLE_PIXELS = 16_000_000  # of the formats that cannot be unpacked at a smaller size
PHOTO_PIXELS = 40_000_000  # refuse to unpack more: a small file can hold a huge picture
PHOTO_SIDE = 2048
PHOTO_QUALITY = 82


def keep(
    session: Session,
    person: Person,
    kind: str,
    *,
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
        raise TooLarge(
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
    """Return a photo turned upright, at most 2048 pixels a side, without any metadata.

    Raises
    ------
    BadInput
        When it is no picture of a known format, or of too many pixels.
    """
    return UNPACKING.submit(_plain_photo, content).result()


def _plain_photo(content: bytes) -> bytes:
    upright = _upright(content)
    plain = Image.new("RGB", upright.size)
    plain.paste(upright)
    out = io.BytesIO()
    plain.save(out, "JPEG", quality=PHOTO_QUALITY)
    return out.getvalue()


def _upright(content: bytes) -> Image.Image:
    """Unpack a picture no larger than it is kept, and turn it upright."""
    refusal = BadInput(
        "photo", f"{len(content)} bytes", "not a picture this server reads", "Take it again."
    )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(io.BytesIO(content), formats=["JPEG", "PNG", "WEBP"]) as picture:
                most = PHOTO_PIXELS if picture.format == "JPEG" else WHOLE_PIXELS
                if picture.width * picture.height > most:
                    raise TooLarge(
                        "photo",
                        f"{picture.width} × {picture.height} pixels",
                        f"a {picture.format} picture has at most {most // 1_000_000} megapixels",
                        "Send it as JPEG, or smaller: 12 megapixels show all that is needed.",
                    )
                # a JPEG is unpacked at a half to an eighth of its size
                picture.draft("RGB", (PHOTO_SIDE, PHOTO_SIDE))
                small = picture if picture.mode in ("RGB", "L") else picture.convert("RGB")
                small.thumbnail((PHOTO_SIDE, PHOTO_SIDE))
                return ImageOps.exif_transpose(small).convert("RGB")
    except BadInput:
        raise
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Warning) as error:
        raise refusal from error
    except Image.DecompressionBombError as error:
        raise refusal from error


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
