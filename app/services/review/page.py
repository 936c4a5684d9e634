"""The queue as its page shows it: asked for by site, structure, state, month and kind, in pages.

What may be chosen next stands beside it with counts, each under all else that is chosen, so that a
count is what its choice will list.
"""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from urllib.parse import urlencode

import sqlalchemy as sa
from sqlmodel import Session, col

from app.errors import BadInput
from app.language.tables import ALL, part_of
from app.records.sites import Site, Structure
from app.services.review import queue as review_queue
from app.services.review.items import KINDS, QueueItem
from app.services.series.months import month_number, month_of, month_text

SIZE = 16  # items on a page: at most three screens of a desk
EARLIEST_S, LATEST_S = 631_152_000, 4_102_444_800  # 1990 to 2100, as months are written
STATES = ("open", "accepted", "returned", "all")


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What a person asks the queue for; an empty word is any."""

    site_id: int | None = None
    structure_id: int | None = None
    state: str = "open"
    month: str = ""
    kind: str = ""

    def words(self) -> dict[str, str]:
        """Return the choices as an address has them, without those that choose nothing."""
        asked = {
            "site": str(self.site_id or ""),
            "structure": str(self.structure_id or ""),
            "state": "" if self.state == "open" else self.state,
            "month": self.month,
            "kind": self.kind,
        }
        return {key: value for key, value in asked.items() if value}

    def query(self, **more: str | int) -> str:
        """Return the address behind the question mark, with other choices in place of these."""
        asked = {**self.words(), **{key: str(value) for key, value in more.items()}}
        return urlencode({key: value for key, value in asked.items() if value})


@dataclass(frozen=True, kw_only=True)
class Place:
    """Where an item is: its site's name and clock, and its structure where the site has several."""

    name: str
    utc_offset_min: int


@dataclass(frozen=True, kw_only=True)
class Page:
    """One page of the queue and what may be chosen beside it."""

    asked: Asked
    items: Sequence[QueueItem]
    first: int
    total: int
    number: int
    pages: int
    current: str
    kinds: dict[str, int]
    months: dict[str, int]
    states: dict[str, int]

    @property
    def last(self) -> int:
        return self.first + len(self.items) - 1

    @property
    def of_any_kind(self) -> int:
        """Return how many the page would list without a choice of kind."""
        return sum(self.kinds.values())


def check(asked: Asked) -> None:
    """Raise BadInput when state, month or kind is none."""
    if asked.state not in STATES:
        said = "open, accepted, returned or all"
        raise BadInput("state", asked.state[:20], said, "Choose one.")
    if asked.kind and asked.kind not in KINDS:
        raise BadInput("kind", asked.kind[:20], "no kind of item", "Choose one of the list.")
    if asked.month:
        month_number(asked.month)


def filtered(session: Session, asked: Asked) -> list[QueueItem]:
    """Return every item that is asked for, newest first; raises BadInput as `check` does."""
    check(asked)
    items = review_queue.queue(session, asked.site_id, state="all", limit=ALL)
    return kept(items, asked, offsets(session))


def kept(
    items: Iterable[QueueItem], asked: Asked, clocks: dict[int | None, int]
) -> list[QueueItem]:
    """Return those of some items that are asked for."""
    number = month_number(asked.month) if asked.month else None
    found = []
    for item in items:
        if asked.structure_id is not None and item.structure_id != asked.structure_id:
            continue
        if asked.state not in ("all", item.state) or asked.kind not in ("", item.kind):
            continue
        if number is None or number in _months(item, clocks):
            found.append(item)
    return found


def _months(item: QueueItem, clocks: dict[int | None, int]) -> range:
    """Return the site months an item lies in; of a clock gone astray none that can be asked for."""
    clock = clocks.get(item.site_id, 0)
    first, last = max(item.from_s, EARLIEST_S), min(item.to_s, LATEST_S)
    return range(month_of(first, clock), month_of(last, clock) + 1) if first <= last else range(0)


def offsets(session: Session) -> dict[int | None, int]:
    """Return the clock of each site, as minutes from UTC."""
    return dict(session.execute(sa.select(col(Site.id), col(Site.utc_offset_min))).all())


def page_of(session: Session, asked: Asked, number: int = 1, at: str = "", row: int = 0) -> Page:
    """Return a page of what is asked for.

    Parameters
    ----------
    number : the page, the last one if past
    at : mark of the item to stand on; its page is shown, whatever the number
    row : place on the page to stand on where that item is no more

    Raises
    ------
    BadInput
        As `check` does.
    """
    check(asked)
    clocks = offsets(session)
    every = review_queue.queue(session, asked.site_id, state="all", limit=ALL)
    items = kept(every, asked, clocks)
    marks = [item.mark for item in items]
    if at in marks:
        number = marks.index(at) // SIZE + 1
    shown, number, pages = part_of(items, number, SIZE)
    if at and at not in marks and shown:
        at = shown[min(row, len(shown) - 1)].mark
    months = Counter(
        month
        for item in kept(every, replace(asked, month=""), clocks)
        for month in _months(item, clocks)
    )
    states = Counter(x.state for x in kept(every, replace(asked, state="all"), clocks))
    kinds = Counter(x.kind for x in kept(every, replace(asked, kind=""), clocks))
    chosen = {month_text(month_number(asked.month)): 0} if asked.month else {}
    by_month = {month_text(month): months[month] for month in sorted(months, reverse=True)}
    return Page(
        asked=asked,
        items=shown,
        first=(number - 1) * SIZE + 1 if shown else 0,
        total=len(items),
        number=number,
        pages=pages,
        current=at if shown else "",
        kinds={kind: kinds[kind] for kind in KINDS if kinds[kind] or kind == asked.kind},
        months=chosen | by_month,
        states={state: states[state] for state in STATES[:-1]} | {"all": states.total()},
    )


def places(session: Session, items: Iterable[QueueItem]) -> dict[str, Place]:
    """Return where each item is, by key, in two statements."""
    items = list(items)
    ids = {item.site_id for item in items if item.site_id is not None}
    sites = sa.select(col(Site.id), col(Site.name), col(Site.utc_offset_min))
    known = {row[0]: row for row in session.execute(sites.where(col(Site.id).in_(ids)))}
    own: dict[int, dict[int, str]] = {}
    asked = sa.select(col(Structure.site_id), col(Structure.id), col(Structure.name))
    for site_id, structure_id, name in session.execute(
        asked.where(col(Structure.site_id).in_(ids))
    ):
        own.setdefault(site_id, {})[structure_id] = name
    found = {}
    for item in items:
        if item.site_id not in known:
            found[item.key] = Place(name="no site", utc_offset_min=0)
            continue
        _, name, clock = known[item.site_id]
        several = own.get(item.site_id or 0, {})
        which = several.get(item.structure_id or 0) if len(several) > 1 else None
        found[item.key] = Place(name=f"{name}, {which}" if which else name, utc_offset_min=clock)
    return found
