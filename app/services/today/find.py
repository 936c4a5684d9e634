"""Search, filter, sort and page the board; the whole state of a look is in its address."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from app.errors import BadInput
from app.hydraulics.structure.device import Flow
from app.services.today.board import OLD_DAYS, SiteRow

SITES_A_PAGE = 50
FLOWS = {flow.word.replace(", ", "-").replace(" ", "-"): flow for flow in Flow}
STATES: dict[str, str] = {
    "": "all sites",
    **{key: flow.word for key, flow in FLOWS.items()},
    "nothing": "nothing on record",
    "old": f"no news for {OLD_DAYS} days",
    "stale": "out of date",
    "unfinished": "not ready yet",
}
SORTS = {
    "name": "name",
    "age": "oldest news first",
    "discharge": "largest discharge first",
    "month": "least complete month first",
    "state": "state of flow",
}


@dataclass(frozen=True, kw_only=True)
class Asked:
    """What is asked of the board: words to find, a state, an order, a page from 1."""

    find: str = ""
    state: str = ""
    sort: str = "name"
    page: int = 1

    @property
    def query(self) -> str:
        """Return this look without its page, as the query of its lists."""
        return self.address(page=1).partition("?")[2]

    def address(self, **other: Any) -> str:
        """Return the address of this look, or of one that differs in something."""
        asked = {**vars(self), **other}
        plain = vars(Asked())
        kept = {key: value for key, value in asked.items() if value != plain[key]}
        return f"/today?{urlencode(kept)}" if kept else "/today"


def asked_of(find: str, state: str, sort: str, page: str) -> Asked:
    """Return what an address asks.

    Raises
    ------
    BadInput
        When the state or the order is none of those offered, or the page is no number.
    """
    if state not in STATES:
        raise BadInput("state", state[:40], "is no state of a site", "Choose one of the list.")
    if sort not in SORTS:
        raise BadInput("sort", sort[:40], "is no order of the list", f"One of {', '.join(SORTS)}.")
    if not (page.isascii() and page.isdigit() and 0 < len(page) < 7 and int(page) > 0):
        raise BadInput("page", page[:20], "pages are counted from 1", "Leave it out.")
    return Asked(find=find.strip()[:80], state=state, sort=sort, page=int(page))


def found(rows: Sequence[SiteRow], asked: Asked) -> list[SiteRow]:
    """Return the sites that are asked for, in the order asked for, not cut into pages."""
    words = asked.find.casefold().split()
    kept = [row for row in rows if _says(row, words) and _is(row, asked.state)]
    return sorted(kept, key=SORT_KEYS[asked.sort]) if asked.sort in SORT_KEYS else kept


def _says(row: SiteRow, words: Sequence[str]) -> bool:
    text = " ".join([row.site.code, row.site.name, *(x.name for x in row.structures)]).casefold()
    return all(word in text for word in words)


def _is(row: SiteRow, state: str) -> bool:
    if state in FLOWS:
        return row.news is not None and row.news.flow_code == FLOWS[state]
    tests: dict[str, Callable[[SiteRow], bool]] = {
        "nothing": lambda x: x.news is None,
        "old": lambda x: x.old,
        "stale": lambda x: bool(x.stale),
        "unfinished": lambda x: bool(x.lacking),
    }
    return tests[state](row) if state in tests else True


# What is unknown comes first where it may hide something, and last where it has no size.
SORT_KEYS: dict[str, Callable[[SiteRow], Any]] = {
    "age": lambda x: -(float("inf") if x.age_s is None else x.age_s),
    "discharge": lambda x: (
        -(-1.0 if x.news is None or x.news.discharge_m3s is None else x.news.discharge_m3s)
    ),
    "month": lambda x: 2.0 if x.month is None else x.month.covered,
    "state": lambda x: 99 if x.news is None else x.news.flow_code,
}


@dataclass(frozen=True, kw_only=True)
class Part:
    """One page of the board; `total` sites are found, on `pages` pages."""

    rows: Sequence[SiteRow]
    total: int
    page: int
    pages: int

    @property
    def first(self) -> int:
        return (self.page - 1) * SITES_A_PAGE + 1 if self.rows else 0

    @property
    def last(self) -> int:
        return self.first + len(self.rows) - 1 if self.rows else 0


def part(rows: Sequence[SiteRow], number: int) -> Part:
    """Return a page of rows; past the last one the last."""
    pages = max(1, -(-len(rows) // SITES_A_PAGE))
    page = min(number, pages)
    start = (page - 1) * SITES_A_PAGE
    return Part(rows=rows[start : start + SITES_A_PAGE], total=len(rows), page=page, pages=pages)
