"""What lists and pages say of an entry copied from a paper book or a spreadsheet."""

from typing import Any

UNKNOWN = "not written"


def observer_of(body: dict[str, Any], author: str) -> str:
    """Return who read it: of a copied entry the reader the book names, else the author."""
    source = body.get("source")
    return author if not source else source.get("observer") or UNKNOWN


def source_words(body: dict[str, Any]) -> str:
    """Return what an entry was copied from, empty for one made on the spot."""
    source = body.get("source")
    if not source:
        return ""
    page = f", page {source['page']}" if source.get("page") else ""
    return f"from a {source['kind']}: {source['name']}{page}"


def copied_by(body: dict[str, Any], author: str) -> str:
    """Return who copied it from the book, empty for one made on the spot."""
    return author if body.get("source") else ""
