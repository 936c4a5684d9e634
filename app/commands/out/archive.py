"""`sillbook archive`: everything on record out as one file, and into an empty database again."""

from pathlib import Path

import typer

from app.commands.context import DataOption, JsonOption, in_words, show_result, verb
from app.language.words import counted
from app.records.database import utc_now
from app.services.archive import opened, out, take_in

archive = typer.Typer(
    help="Everything on record as one file, and into an empty database again.",
    no_args_is_help=True,
)


@archive.command("out")
def archive_out(file: Path, as_json: JsonOption = False, data: DataOption = None) -> None:
    """Take everything out into a new file, also while the server runs.

    Rows, lists as CSV, logger files and photos of one moment; no passwords, no access tokens.

    Example: sillbook archive out /media/stick/record-2026-11-26.zip
    """
    with verb(data, as_json=as_json) as session:
        size = out.to_file(session, file, utc_now())
    with in_words(as_json):
        said = opened.look(file)
    facts = {
        "file": str(file),
        "size": size,
        "row_count": said.row_count,
        "original_count": said.original_count,
        "made_at": said.made_at,
        "epoch": said.epoch,
    }
    if as_json:
        show_result("archive", [facts], counts=said.counts)
        return
    rows, files = counted(said.row_count, "row"), counted(said.original_count, "original file")
    print(f"{file}: {size} bytes, {rows}, {files}")


@archive.command("in")
def archive_in(file: Path, as_json: JsonOption = False, data: DataOption = None) -> None:
    """Take an archive into an empty database; a folder that is not there is made.

    All of it is checked before anything is stored, then all is stored, or nothing. What is worked
    out another way than it was carried is listed. People need new passwords.

    Example: sillbook archive in record-2026-11-26.zip --data /srv/sillbook-new
    """
    with in_words(as_json):
        opened.look(file)  # before a folder is made for it
    with verb(data, as_json=as_json, make=True) as session:
        done = take_in.take_in(session, file, utc_now(), "the command line")
        session.commit()
    said = done.manifest
    if as_json:
        rows = [vars(one) for one in done.differences]
        show_result(
            "archive-differences",
            rows,
            made_at=said.made_at,
            made_by=said.made_by,
            row_count=said.row_count,
            original_count=said.original_count,
            counts=said.counts,
        )
        return
    rows_words = counted(said.row_count, "row")
    print(f"Taken in: {rows_words} of the archive made {said.made_at} by {said.made_by}.")
    if not done.differences:
        print("Worked out again, nothing differs from what the archive carried.")
    else:
        print("Worked out again, this differs; what the archive carried stands:")
    for one in done.differences:
        print(f"{one.site}\t{one.of}\t{one.words}")
    print('Nobody has a password yet: sillbook person password "NAME"')
