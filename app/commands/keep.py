"""Verbs that keep the server and its data: migrate, backup, restore, import-outbox."""

from pathlib import Path
from typing import Annotated

import typer

from app.commands.context import DataOption, in_words, settings_for, verb
from app.services.sync import outbox_file
from app.services.upkeep import backup


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
