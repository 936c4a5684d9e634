"""What every verb shares: its settings, a session, and how it says no."""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from sqlmodel import Session

from app.errors import BadInput, SillbookError
from app.language import typed
from app.records.database import migrate, open_engine
from app.services import backup
from app.settings import Settings

DataOption = Annotated[
    Path | None, typer.Option("--data", help="Folder of the data; else SILLBOOK_DATA.")
]


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


def settings_for(data: Path | None) -> Settings:
    """Return the environment's settings, with the folder given on the command line."""
    settings = Settings.from_environment()
    return settings if data is None else Settings.for_folder(data, https=settings.https)


@contextmanager
def open_session(settings: Settings) -> Iterator[Session]:
    """Bring the database up to date and give a session on it."""
    if settings.database_url.startswith("sqlite"):
        settings.data_dir.mkdir(parents=True, exist_ok=True)
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
    if isinstance(error, BadInput):
        if as_json:
            print(json.dumps({"error": error.as_dict()}))
        value = f" {error.value}" if str(error.value) else ""
        print(f"{error.field}{value}: {error.rule}.\n{error.remedy}", file=sys.stderr)
    else:
        print(str(error), file=sys.stderr)
    raise typer.Exit(2)
