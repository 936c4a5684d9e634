"""`sillbook import-log`: a logger file into the record, after showing what was understood."""

import json
import sys
from collections.abc import Iterable
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated, Any

import typer
from sqlmodel import Session

from app.commands.context import (
    DataOption,
    JsonOption,
    StructureOption,
    figure,
    show_result,
    single,
    verb,
)
from app.errors import BadInput
from app.language.words import counted
from app.records.people import Person
from app.services.loggers import take_in as logger_imports
from app.services.loggers.asking.answers import COLUMN, COLUMN_CHOICES, put
from app.services.loggers.asking.boxes import METRES
from app.services.loggers.preview import preview_import
from app.services.loggers.reader.guesses import Guess
from app.services.loggers.results import ImportPreview
from app.services.sites import accounts
from app.services.sites.register import site_by_code, the_structure


def the_person(session: Session, name: str | None) -> Person:
    """Return who is said to have done it: the named person, or the first of the office."""
    active = [p for p in accounts.people(session) if p.active]
    for person in active:
        if person.name == name or (name is None and person.role in ("office", "steward")):
            return person
    raise BadInput(
        "by", name or "", "an import is somebody's", "Name an active person with --by, or add one."
    )


def answers_of(given: Iterable[str], columns: Iterable[str]) -> dict[str, Any]:
    """Return answers from --answer key=value and --as-column 2=head:mm.

    The keys are those that the look prints, such as "unit of column 2".
    """
    answers: dict[str, Any] = {}
    for text in given:
        key, sign, value = text.partition("=")
        if not sign:
            raise BadInput("answer", text[:40], "is key=value", "Such as date_order='day first'.")
        try:
            said = json.loads(value)
        except ValueError:
            said = value.strip()
        put(answers, key.strip(), said)
    for text in columns:
        number, sign, said = text.partition("=")
        meaning, _, unit = said.partition(":")
        if not sign or not number.strip().isdecimal():
            raise BadInput("as-column", text[:40], "is NUMBER=MEANING:UNIT", "Such as 2=head:mm.")
        chosen = {"meaning": meaning.strip()} | ({"unit": unit.strip()} if unit else {})
        put(answers, "columns", {str(int(number)): chosen})
    return answers


def import_log(
    site: Annotated[str, typer.Argument(help="Code of the site.")],
    file: Annotated[Path, typer.Argument(help="File of a logger: text with a time a row.")],
    yes: Annotated[bool, typer.Option("--yes", help="Import without asking.")] = False,
    as_column: Annotated[
        list[str] | None,
        typer.Option(help="What a column is, such as 2=head:mm; may be repeated."),
    ] = None,
    answer: Annotated[
        list[str] | None,
        typer.Option(
            help="Answer to a question, such as date_order='day first' or "
            "sensor_above_crest_m=-0.12; repeatable."
        ),
    ] = None,
    logger: Annotated[int | None, typer.Option(help="Logger id, where it is not known.")] = None,
    new: Annotated[
        bool, typer.Option("--new", help="It is a logger that is not known yet.")
    ] = False,
    structure: StructureOption = None,
    reads: Annotated[
        str | None, typer.Option(help="A new logger's figures stand over: staff or crest.")
    ] = None,
    clock_fast: Annotated[
        float,
        typer.Option(parser=figure, help="Logger time minus true time at the download, seconds."),
    ] = 0.0,
    clock_shape: Annotated[str, typer.Option(help="linear or shift")] = "linear",
    by: Annotated[
        str | None, typer.Option(help="Who imports; else the first of the office.")
    ] = None,
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """Take a logger file into the record, after showing what was understood of it.

    Example: sillbook import-log TANSY logger.csv --yes
    """
    with verb(data, as_json=as_json) as session:
        content = file.read_bytes()
        place = site_by_code(session, site)
        assert place.id is not None
        answers = answers_of(answer or (), as_column or ())
        seen = preview_import(
            session,
            place.id,
            content,
            file.name,
            logger_id=logger,
            new=new,
            reads=reads or "",
            answers=answers,
            clock_fast_s=clock_fast,
            clock_shape=clock_shape,
        )
        if not as_json:
            show(seen)
        if seen.questions and not seen.already_held:
            raise open_questions(seen)
        if seen.blocked and not seen.already_held:
            raise seen.blocked  # before anybody is asked whether to go on
        if not agreed(seen, yes, as_json):
            if as_json:
                show_preview(seen)
            print("Nothing was stored. Add --yes to import.", file=sys.stderr)
            raise typer.Exit(1)
        added: dict[str, Any] | None = None
        if seen.logger is None and not seen.already_held:
            flume = the_structure(session, place, structure)
            added = {"structure_id": flume.id, "name": seen.serial or file.stem, "reads": reads}
        done = logger_imports.do_import(
            session,
            place.id,
            content,
            file.name,
            the_person(session, by),
            datetime.now(UTC),
            logger_id=logger,
            new_logger=added,
            answers=answers,
            clock_fast_s=clock_fast,
            clock_shape=clock_shape,
        )
        session.commit()
    if as_json:
        told = asdict(done)
        told["row_count"] = told.pop("rows")
        show_result("import-log", single(told), **told)
        return
    print(
        f"{done.state.replace('_', ' ')}: {done.new} new, {done.already_same} held already, "
        f"{done.conflict_count} differ; {counted(done.rebuilt_days, 'day')} made again"
    )
    for note in done.notes:
        print(note)


def open_questions(seen: ImportPreview) -> BadInput:
    """Return the refusal of a file that asks: each question with the option that answers it."""
    first = seen.questions[0]
    return BadInput(
        ", ".join(guess.key for guess in seen.questions),
        first.chosen,
        "; ".join(
            [f"{guess.key} is not certain: {guess.why}" for guess in seen.questions]
            + [candidate.words for candidate in seen.candidates]
        ),
        "Answer with " + " ".join(option_of(guess) for guess in seen.questions),
    )


def option_of(guess: Guess) -> str:
    """Return the option of this command that answers a question, with its choices."""
    told = [text for text in (guess.chosen, *guess.alternatives) if text]
    number = next((m[1] for text in (guess.key, *told) if (m := COLUMN.search(text))), "N")
    if guess.key in COLUMN_CHOICES:
        key = "head_column" if guess.key == "columns" else guess.key
        numbers = [m[1] for text in told if (m := COLUMN.match(text))]
        if numbers:
            return f"--answer {key}={'|'.join(numbers)}"
        return "--as-column 'N=barometer:UNIT' or --as-column 'N=pressure, vented:UNIT'"
    if guess.key.startswith("scale of "):
        return f'--answer \'{guess.key}={{"zero": 0.1, "per_unit": 0.001}}\''
    if guess.key.startswith("unit of "):
        ways = "|".join(told)
        return f"--answer '{guess.key}={ways}' or --as-column {number}=MEANING:UNIT"
    if guess.key.startswith("column "):
        return f"--as-column '{number}={'|'.join(told)}:UNIT'"
    if guess.alternatives == METRES:
        return f"--answer {guess.key}=METRES"
    return f"--answer '{guess.key}={'|'.join(told) or 'TEXT'}'"


def show(seen: ImportPreview) -> None:
    """Print what was understood of a file."""
    print(seen.sentence)
    for guess in seen.guesses:
        mark = "?" if guess.ask else " "
        print(f" {mark} {guess.key}: {guess.chosen} ({guess.why})")
        if guess.ask:
            print(f"     answer with {option_of(guess)}")
    for one in seen.answered:
        when = "answered for this logger before" if one.before else "your answer"
        print(f" = {one.guess.key}: {one.value} ({when})")
    for row in (*seen.first[:3], *seen.last[-2:]):
        head = row.no_head if row.head_m is None else f"{row.head_m:.4f} m"
        print(f"   row {row.row}: {row.text[:50]}  ->  {row.site_time}, {head}")
    for problem in seen.problems[:20]:
        print(f" ! row {problem.row}, column {problem.column} {problem.value}: {problem.rule}")
    if seen.problem_count > 20:
        print(f" ! and {seen.problem_count - 20} more")
    for words in seen.warnings:
        print(f" ! {words}")
    for conflict in seen.conflicts[:5]:
        print(
            f" ! {conflict.at:%Y-%m-%d %H:%M} UTC: held {conflict.held_m:.4f} m, "
            f"this file {conflict.other_m:.4f} m"
        )
    for candidate in seen.candidates:
        print(f" ? {candidate.words}: {'; '.join(candidate.means)}")
    whose = seen.logger.name if seen.logger else "a new logger"
    print(f"for {whose}: {counted(seen.new, 'new reading')}, {seen.already_same} held already")


def show_preview(seen: ImportPreview) -> None:
    """Print as JSON what was understood of a file that is not taken in yet."""
    rows = [asdict(row) for row in (*seen.first, *seen.last)]
    show_result(
        "import-log",
        rows,
        state="looked at",
        sentence=seen.sentence,
        row_count=seen.rows,
        new=seen.new,
        already_same=seen.already_same,
        conflict_count=seen.conflict_count,
        problem_count=seen.problem_count,
        problems=[asdict(problem) for problem in seen.problems],
        guesses=[asdict(guess) for guess in seen.guesses],
        warnings=seen.warnings,
    )


def agreed(seen: ImportPreview, yes: bool, as_json: bool) -> bool:
    """Ask whether to go on, where somebody can answer."""
    if yes or seen.already_held:
        return True
    return not as_json and sys.stdin.isatty() and typer.confirm("Import?")
