"""`sillbook visits-due` and `sillbook equipment`: what is due, and what is overdue, at a glance."""

from collections.abc import Callable
from datetime import datetime
from typing import Annotated

import typer
from sqlmodel import Session

from app.commands.context import DataOption, JsonOption, show_list, verb
from app.language.tables import Table
from app.records.database import utc_now
from app.services.equipment import tables as equipment_tables
from app.services.visits import due_list as visits_due
from app.services.visits import tables as visit_tables


def due(
    round_name: Annotated[str, typer.Option("--round", help="Only the sites of a round.")] = "",
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """List the sites by when their next visit is due, overdue first.

    A site without an interval says so; it is never taken for fine.

    Example: sillbook visits-due --round "Lower round" --json
    """

    def found(session: Session, now: datetime) -> Table:
        lines = visits_due.due_list(session, now)
        return visit_tables.due_table(visits_due.chosen(lines, round_=round_name))

    told(found, ("code", "name", "words", "person"), as_json, data, "No site yet.")


def equipment(
    state: Annotated[
        str, typer.Option("--state", help="overdue, unknown, in date or not fit for use.")
    ] = "",
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """List the instruments of the register with the state of their calibration today.

    Example: sillbook equipment --state overdue
    """

    def found(session: Session, now: datetime) -> Table:
        held = equipment_tables.register(session, now.date(), state=state)
        return equipment_tables.register_table(held)

    keys = ("kind_words", "described", "serial", "place_words", "calibration_words")
    told(found, keys, as_json, data, "No instrument in the register fits.")


def told(
    found: Callable[[Session, datetime], Table],
    keys: tuple[str, ...],
    as_json: bool,
    data: DataOption,
    empty: str,
) -> None:
    with verb(data, as_json=as_json) as session:
        table = found(session, utc_now())
    if as_json:
        show_list(table)
        return
    for row in table.rows:
        print("  ".join(str(row[key]) for key in keys if row.get(key)))
    if not table.rows:
        print(empty)
