"""The command line: thin verbs over services; `sillbook --help` explains each with an example."""

import typer

from app.commands import (
    devices,
    export,
    gauge,
    import_log,
    keep,
    levels,
    rate,
    rate_again,
    record,
    serve,
)
from app.commands.context import Verbs

cli = typer.Typer(
    cls=Verbs,
    help="Field book and flow record of measuring flumes.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    add_completion=False,
)
cli.command()(serve.demo)
cli.command()(serve.serve)
cli.command()(rate.rate)
cli.command()(devices.devices)
cli.command()(levels.levels)
cli.add_typer(gauge.gauge, name="gauge")
cli.command("fit")(gauge.fit)
cli.command()(export.export)
cli.command("import-log")(import_log.import_log)
cli.command("rate-again")(rate_again.rate_again)
cli.command()(record.daily)
cli.command("takes")(record.use_of_takes)
cli.command("export-daily")(record.export_daily)
cli.command("export-series")(record.export_series)
cli.add_typer(keep.person, name="person")
cli.command("import-outbox")(keep.import_outbox)
cli.command()(keep.migrate)
cli.command("backup")(keep.backup_command)
cli.command("restore")(keep.restore_command)
cli.command("new-epoch")(keep.new_epoch)


def main() -> None:
    cli()


if __name__ == "__main__":
    main()
