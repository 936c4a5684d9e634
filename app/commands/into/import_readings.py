"""`sillbook import-readings`: old readings of a book or a spreadsheet, after showing each row."""

import hashlib
import sys
from datetime import datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from sqlmodel import Session

from app.commands.context import DataOption, JsonOption, StructureOption, show_result, verb
from app.commands.into.import_log import the_person
from app.errors import BadInput
from app.language.clock import iso
from app.language.words import counted
from app.records.database import utc_now
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.books import batches, files, preview, take_in
from app.services.books.page import new_sheet
from app.services.books.sheet import Sheet, sheet_of
from app.services.sites.register import site_by_code, the_structure

SHOWN = 40  # rows printed; the rest is counted, and stands in --json
STATES = (preview.READY, preview.ASK, preview.REFUSED, preview.HELD, take_in.STORED)


def import_readings(
    site: Annotated[str, typer.Argument(help="Code of the site; not needed for --undo.")] = "",
    file: Annotated[Path | None, typer.Argument(help="CSV or text, a reading a line.")] = None,
    yes: Annotated[bool, typer.Option("--yes", help="Take in what is ready.")] = False,
    day: Annotated[str, typer.Option(help="Column of the day, by title or number.")] = "",
    time: Annotated[
        str, typer.Option(help="Column of the time; alone, of day and time in one cell.")
    ] = "",
    staff: Annotated[
        str, typer.Option(help="Column of the staff reading, as the plate showed it.")
    ] = "",
    tailwater: Annotated[str, typer.Option(help="Column of the tail staff.")] = "",
    observer_column: Annotated[str, typer.Option(help="Column of who read it.")] = "",
    page_column: Annotated[str, typer.Option(help="Column of the page of the book.")] = "",
    answer_column: Annotated[
        str, typer.Option(help="Column that says 'as read' or 'dry' where a row is asked about.")
    ] = "",
    remark_column: Annotated[str, typer.Option(help="Column of remarks.")] = "",
    unit: Annotated[str, typer.Option(help="mm, cm or m; else the title's, else the site's.")] = "",
    offset: Annotated[
        str, typer.Option(help="Clock of the book from UTC, such as +13:00; else the site's.")
    ] = "",
    order: Annotated[str, typer.Option(help="day first or month first, of 03/04/2024.")] = "",
    observer: Annotated[str, typer.Option(help="Who read them, where a row says none.")] = "",
    source: Annotated[str, typer.Option(help="Name of the book; else that of the file.")] = "",
    paper: Annotated[
        bool, typer.Option("--paper", help="Copied from a paper book, not a spreadsheet.")
    ] = False,
    structure: StructureOption = None,
    undo: Annotated[str, typer.Option(help="Take back the batch of this id.")] = "",
    reason: Annotated[str, typer.Option(help="Why it is taken back.")] = "",
    by: Annotated[
        str | None, typer.Option(help="Who copied; else the first of the office.")
    ] = None,
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """Take old readings of a book or a spreadsheet in, after showing every row with its discharge.

    Example: sillbook import-readings TANSY season.csv --unit mm --observer Ines --yes
    """
    with verb(data, as_json=as_json) as session:
        person = the_person(session, by)
        if undo:
            take_back(session, undo, reason, person, as_json=as_json)
            return
        if not site or file is None:
            raise BadInput("file", "", "a site and a file are needed", "Such as TANSY season.csv.")
        content = file.read_bytes()
        columns = {
            "day": day or (time if not day else ""),
            "time": time if day else "",
            "staff": staff,
            "tail": tailwater,
            "observer": observer_column,
            "page": page_column,
            "answer": answer_column,
            "remark": remark_column,
        }
        read = files.rows_of_file(content, {k: v for k, v in columns.items() if v})
        place = site_by_code(session, site)
        flume = the_structure(session, place, structure)
        said = {
            "unit": unit or read.unit,
            "utc_offset": offset,
            "order": order,
            "observer": observer,
            "name": source or file.name,
            "kind": "paper book" if paper else "spreadsheet",
        }
        sheet = sheet_for(place, flume, content, said, utc_now())
        assert flume.id is not None
        sheet = batches.batch_in_use(session, sheet)
        found = preview.look(session, flume.id, sheet, read.rows, person, utc_now())
        answers = [preview.told(found, one) for one in found.rows]
        if not as_json:
            show(answers, read)
        ready = found.count(preview.READY)
        if ready and not (yes or (sys.stdin.isatty() and typer.confirm(f"Take in {ready}?"))):
            if as_json:
                show_result("import-readings", answers, **summary(sheet, answers, read))
            print("Nothing was stored. Add --yes to take in what is ready.", file=sys.stderr)
            raise typer.Exit(1)
        if ready:
            found, answers = take_in.take_in(session, flume.id, sheet, read.rows, person, utc_now())
        if as_json:
            show_result("import-readings", answers, **summary(found.sheet, answers, read))
        else:
            print(f"{told(answers)}; batch {found.sheet.batch}")
            if not ready and found.count(preview.REFUSED):
                raise typer.Exit(1)
            if ready:
                print(f"To take it back: sillbook import-readings --undo {found.sheet.batch}")


def sheet_for(
    site: Site, structure: Structure, content: bytes, said: dict[str, str], now: datetime
) -> Sheet:
    """Return the sheet of a file: the same file, said to be the same, is the same batch."""
    filled = {**new_sheet(site, now), **{key: text for key, text in said.items() if text}}
    key = [f"{name}={said[name]}" for name in sorted(said)]
    digest = hashlib.sha256(content).hexdigest()
    filled |= {"batch": batches.derived_id(digest, str(structure.id), *key), "made_at": iso(now)}
    return sheet_of(filled)


def summary(sheet: Sheet, answers: list[dict[str, Any]], read: files.ReadFile) -> dict[str, Any]:
    """Return the answer as JSON: counts, and how the file was read."""
    return {
        "batch": sheet.batch,
        "unit": sheet.unit,
        "utc_offset_min": sheet.utc_offset_min,
        "encoding": read.encoding,
        "columns": read.columns,
        "left_out": read.left,
        "counts": {state: sum(a["state"] == state for a in answers) for state in STATES},
    }


def told(answers: list[dict[str, Any]]) -> str:
    """Return how many rows are in each state."""
    counts = [(sum(a["state"] == state for a in answers), state) for state in STATES]
    return ", ".join(f"{count} {state}" for count, state in counts if count)


def show(answers: list[dict[str, Any]], read: files.ReadFile) -> None:
    """Print what was understood, row by row; what is not ready first of all."""
    columns = ", ".join(f"{name} in column {place}" for name, place in read.columns.items())
    print(f"{read.encoding}; {columns}; {counted(len(answers), 'row')}: {told(answers)}")
    if read.left:
        print(f"left out, no column here is called so: {', '.join(read.left)}")
    odd = [a for a in answers if a["state"] in (preview.REFUSED, preview.ASK)]
    fine = [a for a in answers if a not in odd]
    for one in (odd[:SHOWN] + fine)[: max(SHOWN, len(odd[:SHOWN]))]:
        at = one["observed_at_local"] if one["observed_at"] else ""
        print(
            f" line {one['row']}: {one['state']}  {at}  {one['discharge']} {one['flow']}".rstrip()
        )
        for fault in one["faults"]:
            column = read.columns.get(fault["field"])
            where = f"column {column}, " if column else ""
            value = f" {fault['value']}" if fault["value"] else ""
            print(f"   ! {where}{fault['field']}{value}: {fault['rule']}. {fault['remedy']}")
        for words in one["asks"]:
            print(f"   ? {words}")
        for words in one["notes"]:
            print(f"     {words}")
    left = len(answers) - SHOWN
    if left > 0:
        print(f" and {counted(left, 'row')} more; --json says all of them")


def take_back(session: Session, batch: str, reason: str, person: Person, *, as_json: bool) -> None:
    """Take a batch back and say what went."""
    done = batches.undo(session, batch, {"reason": reason}, person, utc_now())
    session.commit()
    if as_json:
        told = {"batch": batch, "taken_back": done.standing}
        show_result("import-readings", [told], **told)
    else:
        print(f"{counted(done.standing, done.of.removesuffix('s'))} of {done.name} taken back")
