"""`sillbook export`: the readings of a site, or any of its record in an open standard."""

from contextlib import nullcontext
from typing import Annotated

import typer

from app.commands.context import (
    DataOption,
    FromOption,
    OutOption,
    StructureOption,
    ToOption,
    verb,
)
from app.commands.out.record import write
from app.errors import BadInput
from app.records.database import utc_now
from app.services.datasets.take import Wish, pieces
from app.services.readings.export import readings_text
from app.services.readings.list import span_of
from app.services.sites.register import site_by_code, the_structure


def export(
    site: Annotated[
        str, typer.Argument(help="Code or id of the site; left out for all sites.")
    ] = "",
    first: FromOption = "",
    last: ToOption = "",
    structure: StructureOption = None,
    corrected: Annotated[
        bool, typer.Option("--corrected", help="Also readings that a correction replaced.")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="JSON instead of CSV.")] = False,
    form: Annotated[
        str,
        typer.Option(
            "--format",
            help="csv or json (a zip with codebook), waterml, geojson, parquet or netcdf.",
        ),
    ] = "",
    what: Annotated[
        str,
        typer.Option(help="readings, series, daily, gaugings, ratings, sites or everything."),
    ] = "",
    out: OutOption = None,
    data: DataOption = None,
) -> None:
    """Write the head readings of a site: one row a reading with its discharge.

    With --format or --what: any of its record in an open standard, with its codebook.

    Example: sillbook export TANSY --from 2026-07-01 --to 2026-07-31 > readings.csv
    """
    with verb(data, as_json=as_json) as session:
        if not (form or what):
            place = site_by_code(session, site)
            if structure is not None:
                the_structure(session, place, structure)
            span = span_of(first, last, place.utc_offset_min)
            blocks = readings_text(
                session, place, span, structure, with_corrected=corrected, as_json=as_json
            )
            write(blocks, out)
            return
        if structure is not None or corrected or as_json:
            raise BadInput(
                "format",
                form,
                "a data set has every structure and what stands, in the format that is named",
                "Leave out --structure, --corrected and --json, or --format and --what.",
            )
        wish = Wish(
            what=what or "readings",
            format_key=form or "csv",
            site_id=site_by_code(session, site).id if site else None,
            first=first,
            last=last,
        ).checked()
        write(pieces(nullcontext(session), wish, utc_now()), out)
