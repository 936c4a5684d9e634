"""rate-again: see what rating a site again changes, then do it."""

from datetime import UTC, datetime
from typing import Annotated, Any

import typer
from sqlmodel import Session

from app.commands.context import DataOption, JsonOption, show_result, verb
from app.language.tables import plain
from app.services.rerating import act as rerate
from app.services.rerating.act import Rerate
from app.services.rerating.changes import RecordChange, Tally
from app.services.rerating.tables import answer_table, month_table
from app.services.sites.register import site_by_code

FROM_HERE = "Rated again from the command line"


def rate_again(
    site: Annotated[str, typer.Argument(help="Code of the site.")],
    yes: Annotated[bool, typer.Option("--yes", help="Do it; else it is only shown.")] = False,
    reason: Annotated[str, typer.Option(help="Why, for the audit trail.")] = FROM_HERE,
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """Bring readings and long record to what is in force; approved months are left and listed.

    Example: sillbook rate-again TANSY --yes --reason "throat measured on 2026-10-02"
    """
    with verb(data, as_json=as_json) as session:
        place = site_by_code(session, site)
        assert place.id is not None
        found = done_or_seen(session, place.id, yes, reason)
        said = answer(found, yes and found.does_anything)
        if not as_json:
            show(found, yes)
    if as_json:
        show_result("rate-again", said["months"], **said)


def done_or_seen(session: Session, site_id: int, yes: bool, reason: str) -> Rerate:
    """Look, and with `yes` do what was looked at."""
    now = datetime.now(UTC)
    found = rerate.look(session, site_id, now)
    if yes and found.does_anything:
        held = found.held
        found = rerate.rerate(session, site_id, found.token, reason, now=now, by_id=None)
        session.commit()
        found = rerate.Rerate(**{**vars(found), "held": held})
    return found


def answer(found: Rerate, done: bool) -> dict[str, Any]:
    """Return everything as plain values."""
    return {
        "site": found.site.code,
        "done": done,
        "stale": found.does_anything,
        **found.summary(),
        "months": [plain(row) for row in month_table(found).rows],
        "takes": [plain(row) for row in answer_table(found).rows],
    }


def show(found: Rerate, yes: bool) -> None:
    """Print what changes, and what is left."""
    if not found.does_anything:
        print(f"{found.site.code}: nothing would change, all follows what is in force.")
    else:
        print(f"{found.site.code}: {found.stale.count_words}")
        for why in found.stale.why:
            print(f"  {why}")
        mean, largest = _pct(found.mean_pct), _pct(found.largest_pct)
        changes = f", mean {mean}, largest {largest}" if found.compared else ""
        print(f"readings: {len(found.rows)} of {found.readings} with another value{changes}")
        for record in found.records:
            show_record(record)
    for line in found.held:
        volumes = f": {_m3(line.before_m3)}, would be {_m3(line.after_m3)}"
        print(f"approved, left as it is: {line.structure} {line.month}{volumes}")
        print(f"  {line.stale.words}. Open it again with a reason on the page of its months.")
    if found.does_anything:
        print("Done." if yes else "Nothing was changed. Add --yes to do it.")


def show_record(record: RecordChange) -> None:
    print(f"{record.name}:")
    print(f"  logger readings: {_tally(record.points)}")
    print(f"  days: {_tally(record.days)}")
    states = ", ".join(f"{n} {state}" for state, n in record.months_by_state().items())
    print(f"  months: {len(record.months)}" + (f" ({states})" if states else ""))
    for year in record.years:
        volumes = f"{_m3(year.before_m3)} -> {_m3(year.after_m3)}, {_pct(year.change_pct)}"
        print(f"  water year {year.period}: {volumes}")
    for line in record.turning:
        ahead = f", at the end {line.ahead_before} -> {line.ahead_after}"
        print(
            f"  {line.limit_words}, {line.first} to {line.last}: {line.answer_before} -> "
            f"{line.answer_after}{ahead if line.ahead_after else ''}"
        )


def _tally(row: Tally) -> str:
    text = f"{row.changed} of {row.total} change"
    if row.mean_pct is None:
        return text
    at = f"({row.largest_at[:10]})"
    return f"{text}, mean {_pct(row.mean_pct)}, largest {_pct(row.largest_pct)} {at}"


def _pct(value: float | None) -> str:
    return "no figure" if value is None else f"{value:+.2f} %"


def _m3(value: float | None) -> str:
    return "not known" if value is None else f"{value:.1f} m3"
