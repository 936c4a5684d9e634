"""What holds from a time on as marks: corrections, ratings, gauge zeros, the limits of takes."""

from collections.abc import Iterator
from datetime import date

from sqlmodel import Session

from app.language import words
from app.records.sites import GaugeZero, Rating, Site
from app.services.corrections.layers import layers
from app.services.record.kinds import CORRECTION, LIMIT, RATING, ZERO, Mark
from app.services.series.flow import inputs_of
from app.services.series.months import date_of, day_begins_s, day_number, day_of
from app.services.sites.changes import names_of
from app.services.sites.views import described
from app.services.takes.limits import RATES, LimitLine, limits, season_days

YEAR_DAYS = 366


def corrections(session: Session, structure_id: int, begin_s: int, end_s: int) -> Iterator[Mark]:
    """Yield the corrections that hold; one that was taken back is none."""
    for one in layers(session, structure_id):
        begin, end = int(one.from_at.timestamp()), int(one.to_at.timestamp())
        if begin <= end_s and end >= begin_s:
            shape = one.shape.replace("_", " ")
            amount = f" {one.amount_words}" if one.amount_words else ""
            yield Mark(
                kind=CORRECTION,
                from_s=begin,
                to_s=end,
                title=shape if one.quantity == "head" else f"{shape}, {one.quantity}",
                words=f"{shape} of the {one.quantity}{amount}: {one.reason}",
                href=f"/structures/{structure_id}/layers",
                by=one.by,
            )


def changes(session: Session, structure_id: int, begin_s: int, end_s: int) -> Iterator[Mark]:
    """Yield the instants from which another rating or gauge zero holds.

    Of two that begin together the newer holds, and only that one is a mark.
    """
    inputs, names = inputs_of(session, structure_id), names_of(session)
    base = f"/structures/{structure_id}"
    dated: list[Rating | GaugeZero] = [*inputs.ratings, *inputs.zeros]
    holding = {(type(row), row.valid_from): row for row in dated}  # the newer comes later
    for row in holding.values():
        at = int(row.valid_from.timestamp())
        if begin_s <= at <= end_s:
            kind, href, said = ZERO, f"{base}/gauge-zeros", ""
            if isinstance(row, Rating):
                kind, href, said = RATING, f"{base}/ratings/{row.id}/card", described(row)
            else:
                said = f"{words.millimetres(row.offset_m)} added to the staff"
            yield Mark(
                kind=kind,
                from_s=at,
                to_s=at,
                title=f"{kind} {row.id}",
                words=f"{kind} {row.id} from here on: {said}"
                + (f"; {row.reason}" if row.reason else ""),
                href=href,
                by=names.get(row.by_id or 0, "the server"),
            )


def allowed(
    session: Session, site: Site, structure_id: int, begin_s: int, end_s: int
) -> Iterator[Mark]:
    """Yield the limits of takes; a rate with the stretches in which it holds."""
    for line in limits(session, structure_id):
        parts = [
            (max(a, begin_s), min(b, end_s))
            for a, b in _stretches(line, site.utc_offset_min, begin_s, end_s)
            if a <= end_s and b >= begin_s
        ]
        if parts:
            rate = line.kind in RATES
            amount = words.amount(line.amount, line.unit)
            until = f" to {line.valid_to}" if line.valid_to else ""
            yield Mark(
                kind=LIMIT,
                from_s=day_begins_s(day_number(line.valid_from), site.utc_offset_min),
                to_s=parts[-1][1],
                title=f"{line.kind_words}, {amount}",
                words=f"{line.kind_words}, {amount}, from {line.valid_from}{until}",
                href=f"/structures/{structure_id}/takes",
                by=line.by,
                amount_m3s=line.amount if rate else None,
                parts=parts if rate else [],
            )


def _stretches(
    line: LimitLine, offset_min: int, begin_s: int, end_s: int
) -> Iterator[tuple[int, int]]:
    """Yield the seasons of a limit that a view meets, cut to the days on which it holds.

    A season that begins on the day after the last one goes on: the two are one stretch.
    """
    held = (
        day_number(line.valid_from),
        YEAR_DAYS * 10_000 if line.valid_to is None else day_number(line.valid_to),
    )
    first = max(held[0], day_of(begin_s, offset_min))
    last = min(held[1], day_of(end_s, offset_min))
    joined: list[tuple[int, int]] = []
    for year in range(date_of(first).year - 1, date_of(last).year + 1):
        opens, closes = _season(line, year)
        a, b = max(opens, held[0]), min(closes, held[1])
        if b < first or a > last or b < a:
            continue
        if joined and a <= joined[-1][1] + 1:
            joined[-1] = (joined[-1][0], b)
        else:
            joined.append((a, b))
    for a, b in joined:
        yield day_begins_s(a, offset_min), day_begins_s(b + 1, offset_min)


def _season(line: LimitLine, year: int) -> tuple[int, int]:
    """Return first and last day of the season that opens in a year."""
    opening = date.fromisoformat(f"{year}-{line.season_begins}")
    opens, closes = season_days(line.season_begins, line.season_ends, opening)
    return day_number(opens), day_number(closes)
