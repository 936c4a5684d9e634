"""`sillbook export`: the head readings of a site as CSV or JSON."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer

from app.commands.context import DataOption, FromOption, OutOption, StructureOption, ToOption, verb
from app.services.readings.export import readings_text
from app.services.readings.list import span_of
from app.services.sites.register import site_by_code, the_structure


def export(
    site: Annotated[str, typer.Argument(help="Code or id of the site.")],
    first: FromOption = "",
    last: ToOption = "",
    structure: StructureOption = None,
    corrected: Annotated[
        bool, typer.Option("--corrected", help="Also readings that a correction replaced.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="JSON instead of CSV.")] = False,
    out: OutOption = None,
    data: DataOption = None,
) -> None:
    """Write the head readings of a site: one row a reading with its discharge.

    Example: sillbook export TANSY --from 2026-07-01 --to 2026-07-31 > readings.csv
    """
    with verb(data, as_json=as_json) as session:
        place = site_by_code(session, site)
        if structure is not None:
            the_structure(session, place, structure)
        span = span_of(first, last, place.utc_offset_min)
        blocks = readings_text(
            session, place, span, structure, with_corrected=corrected, as_json=as_json
        )
        write(blocks, out)


def write(blocks: Iterator[str], out: Path | None) -> None:
    """Write text as UTF-8 with its own line ends, on every system."""
    if out is None:
        for block in blocks:
            sys.stdout.buffer.write(block.encode())
        sys.stdout.buffer.flush()
        return
    with out.open("w", encoding="utf-8", newline="") as file:
        file.writelines(blocks)
