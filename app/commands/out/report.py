"""`sillbook report`: a sheet of paper as a page or as PDF."""

import sys
from datetime import UTC, datetime
from typing import Annotated

import typer

from app.commands.context import DataOption, FromOption, OutOption, ToOption, verb
from app.errors import BadInput
from app.services.sheets.make import SHEETS, printed, sheet_of
from app.services.sheets.pdf import as_pdf
from app.services.sites.register import site_by_code


def report(
    site: Annotated[str, typer.Argument(help="Code or id of the site.")],
    what: Annotated[str, typer.Option(help=f"Which sheet: {', '.join(SHEETS)}.")] = "report",
    first: FromOption = "",
    last: ToOption = "",
    paper: Annotated[str, typer.Option(help="a4 or letter.")] = "a4",
    pdf: Annotated[bool, typer.Option("--pdf", help="As PDF; else a page of HTML.")] = False,
    out: OutOption = None,
    data: DataOption = None,
) -> None:
    """Write a sheet of a site: report, takes, installation, field sheets, card.

    The page holds its styles and pictures, so that it opens anywhere. A PDF is made by the chromium
    of this machine, or by WeasyPrint (`pip install 'sillbook[pdf]'`).

    Example: sillbook report TANSY --from 2025-07-01 --to 2026-06-30 --pdf --out report.pdf
    """
    with verb(data) as session:
        place = site_by_code(session, site)
        now = datetime.now(UTC)
        sheet = sheet_of(session, place, what, first, last, by="the command line", now=now)
        page = printed(session, sheet, paper, alone=True)
        if pdf:
            if out is None:
                raise BadInput("out", "", "a PDF needs a file", "Add --out FILE.")
            as_pdf(page, out)
        elif out is None:
            sys.stdout.buffer.write(page.encode())
            sys.stdout.buffer.flush()
        else:
            out.write_text(page, encoding="utf-8")
    if out is not None:
        print(f"{out}: {sheet.title}, {sheet.period or 'as it is now'}")
