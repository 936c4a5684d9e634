"""What every verb shares: its settings, a session, and how it says no."""

import json
import os
import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, NoReturn

import typer

from app.errors import BadInput, SillbookError
from app.language import typed
from app.language.columns import column_of, list_head
from app.language.tables import Table, json_value
from app.settings import Settings

if TYPE_CHECKING:  # a verb that opens no database must not wait for one to be imported
    from sqlmodel import Session

DataOption = Annotated[
    Path | None, typer.Option("--data", help="Folder of the data; else SILLBOOK_DATA.")
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON.")]
StructureOption = Annotated[
    int | None, typer.Option("--structure", help="Structure id, where a site has several.")
]
FromOption = Annotated[str, typer.Option("--from", help="First site day, such as 2025-07-01.")]
ToOption = Annotated[str, typer.Option("--to", help="Last site day, included.")]
OutOption = Annotated[Path | None, typer.Option("--out", help="File; else standard output.")]


def figure(text: str | float) -> float:
    """Read a number of an option as everywhere else; one that can be two ends with code 2."""
    return _read("", text)


def metres(text: str | float) -> float:
    """Read a number of metres, per cent or an exponent, which never reaches a thousand."""
    return _read("m", text)


def _read(field: str, text: str | float) -> float:
    try:
        return typed.figure(field, text)
    except BadInput as error:
        raise typer.BadParameter(f"{text}: {error.rule}. {error.remedy}") from error


@contextmanager
def in_words(as_json: bool = False) -> Iterator[None]:
    """Say what fails, a file or a database too, in words and end with code 2; no traceback.

    The words are field, value, rule and remedy; with `as_json` they stand as JSON on the output.
    """
    try:
        yield
    except SillbookError as error:
        refuse(error, as_json)
    except OSError as error:
        if isinstance(error, BrokenPipeError) or error.filename is None:
            raise
        remedy = "Check the name, that it is there, and who may read or write it."
        refuse(
            BadInput("file", error.filename, (error.strerror or "fails").lower(), remedy), as_json
        )
    except (typer.Exit, typer.Abort):
        raise
    except Exception as error:
        from app.records.trouble import trouble_of

        trouble = trouble_of(error)
        if trouble is None:
            raise
        refuse(trouble.error, as_json)


@contextmanager
def verb(data: Path | None, *, as_json: bool = False, make: bool = False) -> "Iterator[Session]":
    """Give a verb its session on the data it is asked to work with, and say what fails in words.

    Parameters
    ----------
    data : Path or None
        The folder of --data; None for what the environment says.
    as_json : bool
        Print a refusal as JSON too.
    make : bool
        Begin a new data folder where there is none.
    """
    with in_words(as_json), open_session(settings_for(data), make=make) as session:
        yield session


def show_list(table: Table, **beside: object) -> None:
    """Print a list as JSON: name, columns, units, meta, rows; and what the verb says beside it."""
    rows = [{c.key: row.get(c.key) for c in table.columns} for row in table.rows]
    _show({**list_head(table.name, table.columns), "rows": rows, **beside})


def show_result(name: str, rows: Sequence[Mapping[str, object]], **beside: object) -> None:
    """Print figures as JSON in the shape of a list; their keys say what they are.

    Parameters
    ----------
    rows
        The figures: one row of a single answer, else the table of it.
    beside
        The answer as the verb worked it out, whole.
    """
    columns = [column_of(key) for key in dict.fromkeys(key for row in rows for key in row)]
    _show({**list_head(name, columns), "rows": list(rows), **beside})


def single(answer: Mapping[str, object]) -> list[dict[str, object]]:
    """Return the plain figures and words of an answer as one row."""
    return [{k: v for k, v in answer.items() if not isinstance(v, list | tuple | dict)}]


def _show(content: dict[str, object]) -> None:
    print(json.dumps(json_value(content), indent=2))


def say_misused(error: Any) -> None:
    """Say as JSON, and in words beside it, what is wrong with the options of a verb."""
    parameter = getattr(error, "param", None)
    named = getattr(error, "param_hint", None) or (parameter and parameter.name) or "options"
    verb_name = error.ctx.info_name if error.ctx else ""
    rule = error.format_message()
    remedy = f"`sillbook {verb_name} --help` explains each option."
    bad = BadInput(str(named).strip("'\""), "", rule, remedy)
    print(json.dumps({"error": bad.told()}))
    print(f"{rule}\n{remedy}", file=sys.stderr)


def settings_for(data: Path | None) -> Settings:
    """Return the environment's settings, or those of the folder given on the command line.

    The folder wins over a database that the environment names, and says so: a backup of the wrong
    one of two would be found out too late.
    """
    settings = Settings.from_environment()
    if data is None:
        return settings
    chosen = Settings.for_folder(data, https=settings.https, hosts=settings.hosts)
    if "SILLBOOK_DATABASE_URL" in os.environ and settings.database_url != chosen.database_url:
        print(
            f"Working with --data {data}; SILLBOOK_DATABASE_URL is set, and is not used.",
            file=sys.stderr,
        )
    return chosen


@contextmanager
def open_session(settings: Settings, *, make: bool = False) -> "Iterator[Session]":
    """Bring the database up to date and give a session on it.

    Parameters
    ----------
    make : True for the few verbs that begin a new data folder; any other verb refuses one
        that holds no data, because the name is likely mistyped.

    Raises
    ------
    BadInput
        When there are no data there.
    """
    from sqlmodel import Session

    from app.records.database import migrate, open_engine
    from app.records.holding import database_path
    from app.services.upkeep import backup

    path = database_path(settings.database_url)
    if path is not None and make:
        settings.data_dir.mkdir(parents=True, exist_ok=True)
    elif path is not None and not path.is_file():
        raise BadInput(
            "data",
            path.parent,
            "no Sillbook data here",
            "Check --data or SILLBOOK_DATA; `sillbook person add` begins a new folder.",
        )
    migrate(settings.database_url)
    engine = open_engine(settings.database_url)
    backup.ensure_epoch(engine)
    try:
        with Session(engine, expire_on_commit=False) as session:
            yield session
    finally:
        engine.dispose()


def refuse(error: SillbookError, as_json: bool = False) -> NoReturn:
    """Say what is wrong and how to put it right, and end with exit code 2."""
    if as_json:
        asked = BadInput("asked", "", str(error), "Check the name or the id.")
        print(json.dumps({"error": (error if isinstance(error, BadInput) else asked).told()}))
    if isinstance(error, BadInput):
        for fault in error.faults:
            value = f" {fault.value}" if str(fault.value) else ""
            print(f"{fault.field}{value}: {fault.rule}.\n{fault.remedy}", file=sys.stderr)
    else:
        print(str(error), file=sys.stderr)
    raise typer.Exit(2)
