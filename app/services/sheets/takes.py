"""The report of a season's takes: each limit, what was used of it, and whether it was kept."""

from app.language import words
from app.records.sites import Structure
from app.services.corrections.layers import layers
from app.services.days import daily
from app.services.days.totals import totals
from app.services.sheets.parts import Asked, Grid, Section
from app.services.sheets.report import MOST_PRINTED_DAYS
from app.services.takes import capacity
from app.services.takes.limits import limits
from app.services.takes.page import history_of_use


def takes(asked: Asked) -> list[Section]:
    """Return the sections of the report of takes, structure by structure."""
    sections = []
    for number, structure in enumerate(asked.structures, 1):
        sections += _of(asked, structure, number)
    return sections or [Section(title="Takes", words=["No structure is on record."])]


def _of(asked: Asked, structure: Structure, number: int) -> list[Section]:
    session = asked.session
    assert structure.id is not None
    lines = limits(session, structure.id)
    first = Section(title=asked.named("Limits and their use", structure), on_new_page=number > 1)
    if not lines:
        first.words.append("No limit is on record here.")
    for line in lines:
        amount = words.amount(line.amount, line.unit)
        until = f" to {line.valid_to}" if line.valid_to else ""
        first.facts.append(
            (line.kind_words, f"{amount}, from {line.valid_from}{until}; {line.note}")
        )
        used = [
            [
                f"{one.first} to {one.last}",
                words.amount(one.used, line.unit),
                _spread(one.uncertainty, line.unit),
                "" if one.used_pct is None else f"{one.used_pct:.0f} %",
                one.verdict,
                one.words + (f"; out of date: {one.stale}" if one.stale else ""),
            ]
            for one in history_of_use(session, structure.id, line.id)
            if (asked.first is None or one.last >= asked.first)
            and (asked.last is None or one.first <= asked.last)
        ]
        heads = ("Period", "Used", "k=2", "Of the limit", "Answer", "In words")
        first.grids.append(Grid(heads, used, f"Use of: {line.kind_words}", wide=True))
    for held in capacity.lines(session, structure.id):
        first.facts.append(("What the race carries", _carries(held)))
    return [first, *_days(asked, structure)]


def _spread(value: float | None, unit: str) -> str:
    return "unknown" if value is None else f"± {words.amount(value, unit)}"


def _carries(held: capacity.CapacityLine) -> str:
    flow = words.litres(held.discharge_m3s)
    return f"{held.kind_words}: {flow}, from {held.valid_from}; {held.reason}"


def _days(asked: Asked, structure: Structure) -> list[Section]:
    session = asked.session
    assert structure.id is not None
    months = Section(title=asked.named("Volume by month", structure))
    rows = totals(session, structure.id, asked.first, asked.last)
    if not rows:
        months.words.append("No long record: nobody can say how much was taken.")
        return [months]
    heads = ("Month", "Volume, k=2", "Measured", "Without record")
    told = [
        [
            row["period"],
            words.volume(row["volume_m3"], row["volume_uncertainty_m3"]),
            words.volume(row["measured_m3"]),
            words.share(row["missing_fraction"]),
        ]
        for row in rows
    ]
    months.grids.append(Grid(heads, told, "Volume by month"))
    days = daily.shown(session, structure.id, asked.first, asked.last)
    if len(days) <= MOST_PRINTED_DAYS:
        rows_ = [
            [
                row["day"],
                words.volume(row["volume_m3"], row["volume_uncertainty_m3"]),
                row["word"],
                f"{row['state']}{', out of date' if row['stale'] else ''}",
            ]
            for row in days
        ]
        grid = Grid(("Day", "Volume, k=2", "Record", "State"), rows_, "Volume by day")
        title = asked.named("Volume by day", structure)
        by_day = Section(title=title, grids=[grid], on_new_page=True)
        return [months, by_day, _touched(asked, structure)]
    return [months, _touched(asked, structure)]


def _touched(asked: Asked, structure: Structure) -> Section:
    """Say which corrections lie in the period: they changed what is counted."""
    assert structure.id is not None
    rows = [
        [asked.local(one.from_at), asked.local(one.to_at), one.amount_words, one.reason, one.by]
        for one in layers(asked.session, structure.id)
        if asked.within(one.from_at) or asked.within(one.to_at)
    ]
    title = asked.named("Corrections in the period", structure)
    if not rows:
        return Section(title=title, words=["None."])
    return Section(title=title, grids=[Grid(("From", "To", "What it does", "Reason", "By"), rows)])
