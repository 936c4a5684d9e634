"""What may need a person, as a list of sources: each reads in bulk and gives its lines.

A new source is a function from a `Look` to lines and one more name in `SOURCES`. It must count
exactly what the list at its address holds: a test follows every line and compares.
"""

from collections.abc import Sequence
from urllib.parse import quote, urlencode

from app.language.tables import ALL
from app.services.review import queue as review_queue
from app.services.review.items import QueueItem
from app.services.takes import page as take_views
from app.services.takes.lines import UseLine
from app.services.today.board import OLD_DAYS, SiteRow
from app.services.today.lines import (
    BROKEN,
    PRESSING,
    SOON,
    THINGS_NAMED,
    WHEN_THERE_IS_TIME,
    Line,
    Look,
    Source,
    Thing,
    counted,
)
from app.services.today.rounds import of_rounds
from app.services.today.zeros import ZeroLine, zeros_due

# kind of item: how pressing it is, and the words for one and for several
REVIEW: dict[str, tuple[int, str, str]] = {
    "refused": (BROKEN, "record of a phone was refused", "records of phones were refused"),
    "conflict": (
        PRESSING,
        "file says otherwise than the record",
        "files say otherwise than the record",
    ),
    "rival": (
        PRESSING,
        "record has rival corrections",
        "records have rival corrections",
    ),
    "zero": (
        PRESSING,
        "gauge zero rests on a level run that stands no more",
        "gauge zeros rest on level runs that stand no more",
    ),
    "stale": (
        PRESSING,
        "record no longer follows what is in force: rate again",
        "records no longer follow what is in force: rate again",
    ),
    "link": (SOON, "correction has no effect", "corrections have no effect"),
    "ahead": (SOON, "time lies ahead of the clock", "times lie ahead of the clock"),
    "differs": (
        SOON,
        "reading differs from the sensor",
        "readings differ from the sensor",
    ),
    "offer": (SOON, "correction is offered", "corrections are offered"),
    "file": (SOON, "logger file waits", "logger files wait"),
    "drowned": (SOON, "stretch was drowned", "stretches were drowned"),
    "fault": (
        WHEN_THERE_IS_TIME,
        "finding in a series waits for a word",
        "findings in the series wait for a word",
    ),
}


def of_review(look: Look) -> list[Line]:
    """Give a line for each kind of open item of the review queue."""
    kinds: dict[str, list[QueueItem]] = {}
    for item in review_queue.queue(look.session, limit=ALL):
        kinds.setdefault(item.kind, []).append(item)
    lines = []
    for kind, items in kinds.items():
        urgency, one, many = REVIEW.get(kind, (SOON, f"item ({kind})", f"items ({kind})"))
        lines.append(
            Line(
                key=kind,
                urgency=urgency,
                count=len(items),
                title=counted(len(items), one, many),
                address=f"/review?kind={quote(kind)}",
                things=tuple(
                    Thing(words=said(x), address=address_of(x)) for x in items[:THINGS_NAMED]
                ),
            )
        )
    return lines


def said(item: QueueItem) -> str:
    """Return an item in a line: where, and what."""
    where = f"{item.site_code}: " if item.site_code else ""
    words = item.title if item.kind == "stale" else item.sentence.removesuffix(".")
    return where + (words if len(words) < 110 else words[:107].rstrip() + "…")


def address_of(item: QueueItem) -> str:
    """Return the page where an item is settled."""
    link = item.link
    if item.kind == "stale":
        return str(link["act"])
    if item.kind == "file" and item.site_id is not None:
        return f"/sites/{item.site_id}/loggers/files/{link['sha256']}"
    if item.kind == "offer" and item.form:
        return f"/structures/{item.structure_id}/layers?{urlencode(item.form)}#preview"
    if item.kind == "differs":
        return f"/readings/{link['entry_id']}"
    if item.kind == "conflict":
        return f"/sites/{item.site_id}/loggers/{link['logger_id']}/conflicts"
    for _, address in link.get("addresses", ()):
        return str(address)
    asked = {"kind": item.kind} | ({"site": str(item.site_id)} if item.site_id else {})
    return f"/review?{urlencode(asked | {'at': item.mark})}"


def of_takes(look: Look) -> list[Line]:
    """Give one line for the limits that are over, near, heading over or cannot be told."""
    found = take_views.alerts(look.session)
    if not found:
        return []
    over = sum(x.verdict == "over" for x in found)
    unknown = sum(x.verdict == "cannot tell" for x in found)
    near = len(found) - over - unknown
    parts = [f"{over} over"] * bool(over) + [f"{near} near"] * bool(near)
    parts += [f"{unknown} cannot be told"] * bool(unknown)
    return [
        Line(
            key="takes",
            urgency=BROKEN if over else PRESSING if near else SOON,
            count=len(found),
            title=counted(len(found), "limit needs a look: ", "limits need a look: ")
            + ", ".join(parts),
            address="/takes",
            things=tuple(_limit(x) for x in found[:THINGS_NAMED]),
        )
    ]


def _limit(line: UseLine) -> Thing:
    limit = line.limit
    return Thing(
        words=f"{limit.site_code}, {limit.structure_name}, {limit.kind_words}: {line.words}",
        address=f"/structures/{limit.structure_id}/takes",
    )


def of_zeros(look: Look) -> list[Line]:
    """Give one line for gauge zeros that are missing, not proven or long not levelled."""
    found = zeros_due(look.session, look.now)
    if not found:
        return []
    return [
        Line(
            key="zeros",
            urgency=SOON,
            count=len(found),
            title=counted(len(found), "gauge zero needs", "gauge zeros need") + " a level run",
            address="/today/levels",
            things=tuple(_zero(x) for x in found[:THINGS_NAMED]),
        )
    ]


def _zero(line: ZeroLine) -> Thing:
    return Thing(
        words=f"{line.site.code}, {line.structure.name}: {line.state}",
        address=f"/sites/{line.site.id}/levels",
    )


def of_sites(look: Look) -> list[Line]:
    """Give a line for sites that are not finished, and one for those without news for long."""
    unfinished = [row for row in look.rows if row.lacking]
    quiet = [row for row in look.rows if row.old]
    lines = []
    if unfinished:
        lines.append(
            Line(
                key="unfinished",
                urgency=SOON,
                count=len(unfinished),
                title=counted(len(unfinished), "site is", "sites are")
                + " not ready to give a discharge",
                address="/today?state=unfinished#sites",
                things=_sites(unfinished, [row.lacking[0] for row in unfinished]),
            )
        )
    if quiet:
        lines.append(
            Line(
                key="quiet",
                urgency=WHEN_THERE_IS_TIME,
                count=len(quiet),
                title=counted(len(quiet), "site", "sites")
                + f" without news for more than {OLD_DAYS} days",
                address="/today?state=old#sites",
                things=_sites(
                    quiet,
                    [
                        f"last heard of {row.news.at:%Y-%m-%d}" if row.news else "nothing on record"
                        for row in quiet
                    ],
                ),
            )
        )
    return lines


def _sites(rows: Sequence[SiteRow], words: Sequence[str]) -> tuple[Thing, ...]:
    return tuple(
        Thing(words=f"{row.site.code}: {said}", address=f"/sites/{row.id}/flow")
        for row, said in zip(rows[:THINGS_NAMED], words, strict=False)
    )


# The one list of what may need a person.
SOURCES: tuple[Source, ...] = (of_review, of_takes, of_rounds, of_zeros, of_sites)


def work(look: Look) -> list[Line]:
    """Return everything that needs a person, most pressing first."""
    found = [line for source in SOURCES for line in source(look)]
    return sorted(found, key=lambda line: line.urgency)  # stable: sources keep their order
