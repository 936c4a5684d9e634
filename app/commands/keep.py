"""Verbs that keep the server and its data: people, migrate, backup, restore, import-outbox."""

import getpass
import sys
from pathlib import Path
from typing import Annotated

import typer

from app.commands.context import DataOption, in_words, settings_for, verb
from app.services.sites import accounts
from app.services.sync import outbox_file
from app.services.upkeep import backup

person = typer.Typer(help="People who sign in.", no_args_is_help=True)


@person.command("add")
def person_add(
    name: str,
    role: Annotated[str, typer.Option(help="crew, office or steward")] = "crew",
    data: DataOption = None,
) -> None:
    """Add a person; the password is asked for, or read from standard input.

    Example: sillbook person add "A. Keeper" --role steward
    """
    if sys.stdin.isatty():
        password = getpass.getpass("Password: ")
        if getpass.getpass("Again: ") != password:
            raise typer.BadParameter("the two passwords differ")
    else:
        password = sys.stdin.readline().rstrip("\n")
    with verb(data, make=True) as session:
        accounts.add_person(session, name, role, password)
        session.commit()
    print(f"{name} added as {role}")


@person.command("list")
def person_list(data: DataOption = None) -> None:
    """List the people who may sign in.

    Example: sillbook person list
    """
    with verb(data) as session:
        for somebody in accounts.people(session):
            standing = "" if somebody.active else ", may not sign in"
            print(f"{somebody.id}\t{somebody.name}\t{somebody.role}{standing}")


def migrate(data: DataOption = None) -> None:
    """Bring the database to this version; also done whenever the server starts.

    Example: sillbook migrate --data /srv/sillbook
    """
    with verb(data):
        print("The database is up to date.")


def backup_command(file: Path, data: DataOption = None) -> None:
    """Copy the database into a new file, also while the server runs.

    Example: sillbook backup /media/stick/sillbook-2026-11-25.sqlite3
    """
    with in_words():
        size = backup.backup(settings_for(data), file)
    print(f"{file}: {size} bytes, checked")


def restore_command(file: Path, data: DataOption = None) -> None:
    """Put a backup in place; stop the server first.

    Phones offer the entries of the last 30 days again, so what came after the backup returns.

    Example: sillbook restore /media/stick/sillbook-2026-11-25.sqlite3
    """
    with in_words():
        kept = backup.restore(settings_for(data), file)
    print("Restored." + (f" The replaced file is kept as {kept}." if kept else ""))


def new_epoch(reason: str, data: DataOption = None) -> None:
    """Tell phones that this database was restored by other means (PostgreSQL).

    Example: sillbook new-epoch "restored the dump of Monday"
    """
    with verb(data):
        pass  # there, and up to date
    print(backup.new_epoch(settings_for(data), reason))


def import_outbox(
    file: Path,
    as_name: Annotated[
        str | None, typer.Option("--as", help="Only this person's entries; else everybody's.")
    ] = None,
    data: DataOption = None,
) -> None:
    """Take the file that a phone's outbox page saved.

    Each entry goes through the same checks as a sync and counts as its author's; sending it again
    later from the phone is harmless. Pictures and logger files come with it; one that is missing
    is named.

    Example: sillbook import-outbox outbox-2026-11-25.json
    """
    with verb(data) as session:
        taken = outbox_file.take(session, file, as_name)
    for one in taken:
        words = one.state.replace("_", " ")
        more = f": {one.error}" if one.error else "".join(f"; {note}" for note in one.notes)
        print(f"{one.id}\t{one.words}\t{words}{more}")
    if not taken:
        print("The file holds no entries: nothing to take.")
    if any(one.error for one in taken):
        raise typer.Exit(1)
