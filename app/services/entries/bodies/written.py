"""Where an observation stands written that no phone has seen: a paper book or a spreadsheet."""

from typing import Annotated, Literal

from pydantic import Field

from app.services.entries.bodies.base import KeptId, ShortText, Strict, Uuid

SourceKind = Literal["paper book", "spreadsheet"]


class Written(Strict):
    """What an entry was copied from, and who read it; who copied it is the entry's author."""

    kind: SourceKind
    name: ShortText
    page: ShortText = ""
    observer: ShortText = ""
    """Who read it, as the book says; empty where it does not."""
    observer_id: KeptId | None = None
    """The same person in the register, where the name is one of it."""
    batch: Uuid
    row: Annotated[int, Field(ge=1, le=10_000_000)]
