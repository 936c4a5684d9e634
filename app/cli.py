"""The command line: thin verbs over services; `sillbook --help` explains each with an example.

A verb's module is imported when the verb is asked for: `sillbook rate` needs no web server.
"""

import sys
from collections.abc import Sequence
from importlib import import_module
from typing import Any

import typer
from typer.core import TyperGroup

from app.commands.context import in_words, say_misused

# name, where it is, what it does in one line (the first line of its docstring: a test compares)
VERBS = (
    ("demo", "serve:demo", "Build the invented demo scenario and serve it on 127.0.0.1."),
    ("serve", "serve:serve", "Run the server for real use."),
    ("rate", "rate:rate", "Rate a head, or a file of heads, through a flume or weir."),
    (
        "devices",
        "rate:devices",
        "List the families: sources and how each was used, limits, tested tolerance.",
    ),
    (
        "choose",
        "choose:choose",
        "Which structure: every family and size for a race and a range of flows, with reasons.",
    ),
    (
        "levels",
        "levels:levels",
        "Reduce a run of levels two ways, check it, close it and adjust it.",
    ),
    ("gauge", "gauge:gauge", "Discharge and uncertainty of a check gauging."),
    (
        "fit",
        "gauge:fit",
        "Fit a rating to gaugings; nothing becomes a rating until a person says so.",
    ),
    (
        "export",
        "out.export:export",
        "Write the head readings of a site: one row a reading with its discharge.",
    ),
    (
        "import-log",
        "into.import_log:import_log",
        "Take a logger file into the record, after showing what was understood of it.",
    ),
    (
        "import-readings",
        "into.import_readings:import_readings",
        "Take old readings of a book or a spreadsheet in, after showing every row with its "
        "discharge.",
    ),
    (
        "rate-again",
        "rate_again:rate_again",
        "Bring readings and long record to what is in force; approved months are left and listed.",
    ),
    (
        "daily",
        "out.record:daily",
        "Show the daily flow of a site from its long record; days without record too.",
    ),
    (
        "takes",
        "out.record:use_of_takes",
        "Show what was taken against the limits: over, within or cannot tell.",
    ),
    (
        "export-daily",
        "out.record:export_daily",
        "Write daily.csv: zero flow as 0, missing days blank with a word.",
    ),
    (
        "export-series",
        "out.record:export_series",
        "Write series.csv: every reading, raw and corrected, with what it was computed with.",
    ),
    (
        "visits-due",
        "rounds:due",
        "List the sites by when their next visit is due, overdue first.",
    ),
    (
        "equipment",
        "rounds:equipment",
        "List the instruments of the register with the state of their calibration today.",
    ),
    ("person", "office:person", "People who sign in."),
    ("settings", "office:settings", "What the office sets for everybody."),
    (
        "report",
        "out.report:report",
        "Write a sheet of a site: report, takes, installation, field sheets, card.",
    ),
    ("import-outbox", "keep:import_outbox", "Take the file that a phone's outbox page saved."),
    (
        "migrate",
        "keep:migrate",
        "Bring the database to this version; also done whenever the server starts.",
    ),
    (
        "backup",
        "keep:backup_command",
        "Copy the database into a new file, also while the server runs.",
    ),
    ("restore", "keep:restore_command", "Put a backup in place; stop the server first."),
    (
        "archive",
        "out.archive:archive",
        "Everything on record as one file, and into an empty database again.",
    ),
    (
        "new-epoch",
        "keep:new_epoch",
        "Tell phones that this database was restored by other means (PostgreSQL).",
    ),
)


MISUSED: type[Any] = typer.BadParameter.__bases__[0]  # the usage error, wherever typer keeps it


class Verbs(TyperGroup):
    """All verbs, each imported when it is asked for; what fails is said in words."""

    def list_commands(self, ctx: Any) -> list[str]:
        return [name for name, _, _ in VERBS]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        where = next((place for name, place, _ in VERBS if name == cmd_name), None)
        if where is None:
            return None
        module, _, attribute = where.partition(":")
        found = getattr(import_module(f"app.commands.{module}"), attribute)
        if not isinstance(found, typer.Typer):
            alone = typer.Typer(add_completion=False, pretty_exceptions_enable=False)
            alone.command(cmd_name)(found)
            found = alone
        command = typer.main.get_command(found)
        command.name = cmd_name
        return command

    def format_help(self, ctx: Any, formatter: Any) -> None:
        """List the verbs from the table, so that help imports none of them."""
        self.format_usage(ctx, formatter)
        self.format_help_text(ctx, formatter)
        with formatter.section("Verbs"):
            formatter.write_dl([(name, line) for name, _, line in VERBS])
        formatter.write("\n`sillbook VERB --help` explains one, with an example.\n")

    def invoke(self, ctx: Any) -> Any:
        with in_words():
            return super().invoke(ctx)

    def main(self, args: Sequence[str] | None = None, *rest: Any, **how: Any) -> Any:
        """Run a verb; one that is asked for JSON gets a mistyped option in JSON too."""
        given = list(sys.argv[1:] if args is None else args)
        if "--json" not in given or not how.get("standalone_mode", True):
            return super().main(args, *rest, **how)
        try:
            sys.exit(super().main(args, *rest, **{**how, "standalone_mode": False}) or 0)
        except MISUSED as error:
            say_misused(error)
            sys.exit(error.exit_code)
        except typer.Abort:
            sys.exit(1)


cli = typer.Typer(
    cls=Verbs,
    help="Field book and flow record of measuring flumes.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
)


@cli.callback()
def all_verbs() -> None:
    """Field book and flow record of measuring flumes."""


def main() -> None:
    cli()


if __name__ == "__main__":
    main()
