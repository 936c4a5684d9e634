"""Verbs that read the long record: daily, takes, export-daily, export-series."""

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

import typer
from sqlmodel import Session

from app.commands.context import (
    DataOption,
    FromOption,
    JsonOption,
    OutOption,
    StructureOption,
    ToOption,
    show_result,
    verb,
)
from app.language import typed
from app.language.forms import site_day, site_days
from app.records.sites import Site
from app.services.days import daily as daily_service
from app.services.days import staleness
from app.services.record import export as record_exports
from app.services.sites.register import site_by_code, structures_of, the_structure
from app.services.takes import use as takes


def daily(
    site: Annotated[str, typer.Argument(help="Code of the site.")],
    first: FromOption = "",
    last: ToOption = "",
    structure: StructureOption = None,
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """Show the daily flow of a site from its long record; days without record too.

    Example: sillbook daily TANSY --from 2026-07-01 --to 2026-07-31 --json
    """
    with verb(data, as_json=as_json) as session:
        place, flume_id = asked_for(session, site, structure)
        rows = daily_service.shown(session, flume_id, *site_days(first, last))
        tell_stale(session, place)
    if as_json:
        show_result("daily", rows, site=place.code, structure_id=flume_id, days=rows)
        return
    print("day         mean m3/s   ±%    volume m3   measured  word")
    for row in rows:
        mean, pct, volume = row["mean_m3s"], row["mean_uncertainty_pct"], row["volume_m3"]
        cells = [
            " " * 11 if mean is None else f"{mean:11.4f}",
            " " * 5 if pct is None else f"{pct:5.1f}",
            " " * 11 if volume is None else f"{volume:11.1f}",
        ]
        share = f"{100.0 * row['measured_fraction']:6.1f} %"
        print(f"{row['day']} {' '.join(cells)}   {share}  {row['word']}")


def asked_for(session: Session, site: str, structure: int | None) -> tuple[Site, int]:
    """Return a site and the id of its structure that the options name."""
    place = site_by_code(session, site)
    flume = the_structure(session, place, structure)
    assert flume.id is not None
    return place, flume.id


def tell_stale(session: Session, place: Site) -> None:
    """Say beside the figures that some of them are out of date, and what mends it."""
    assert place.id is not None
    found = staleness.of_site(session, place.id)
    if found.act_helps:
        print(f"Out of date: {found.count_words}: {'; '.join(found.why)}.", file=sys.stderr)
        print(f"Look at it by: sillbook rate-again {place.code}", file=sys.stderr)
    for _, name, months in found.held_by_structure:
        listed = ", ".join(months)
        print(f"Approved, not following what is in force: {name} {listed}", file=sys.stderr)


def use_of_takes(
    site: Annotated[str, typer.Argument(help="Code of the site.")],
    structure: StructureOption = None,
    as_of: Annotated[str, typer.Option(help="Up to this site day; else the last on record.")] = "",
    as_json: JsonOption = False,
    data: DataOption = None,
) -> None:
    """Show what was taken against the limits: over, within or cannot tell.

    Example: sillbook takes TANSY --json
    """
    with verb(data, as_json=as_json) as session:
        place = site_by_code(session, site)
        assert place.id is not None
        day = site_day(as_of, "as-of")
        if structure is not None:
            the_structure(session, place, structure)
        lines = [
            line
            for flume in structures_of(session, place.id)
            if structure in (None, flume.id) and flume.id is not None
            for line in takes.use(session, flume.id, day)
        ]
        tell_stale(session, place)
    if as_json:
        rows = [line.as_row() for line in lines]
        show_result("takes", rows, site=place.code, takes=rows)
        return
    for line in lines:
        limit = typed.said(line.limit.amount, line.limit.unit)
        used = "unknown" if line.used is None else typed.said(rounded(line.used), line.limit.unit)
        print(
            f"{line.limit.structure_name}: {line.limit.kind_words} {limit}, "
            f"{line.first} to {line.as_of}: {used}; {line.words}"
        )
    if not lines:
        print("No limit holds here.")


def rounded(value: float) -> float:
    """Return four digits of a figure: no more are known of a volume or a rate."""
    return float(f"{value:.4g}")


def export_daily(
    site: Annotated[str, typer.Argument(help="Code of the site.")],
    first: FromOption = "",
    last: ToOption = "",
    structure: StructureOption = None,
    out: OutOption = None,
    data: DataOption = None,
) -> None:
    """Write daily.csv: zero flow as 0, missing days blank with a word.

    Example: sillbook export-daily TANSY --from 2025-07-01 --to 2026-06-30 --out daily.csv
    """
    with verb(data) as session:
        place, flume_id = asked_for(session, site, structure)
        tell_stale(session, place)
        write(record_exports.daily_csv(session, flume_id, *site_days(first, last)), out)


def export_series(
    site: Annotated[str, typer.Argument(help="Code of the site.")],
    first: FromOption = "",
    last: ToOption = "",
    structure: StructureOption = None,
    out: OutOption = None,
    data: DataOption = None,
) -> None:
    """Write series.csv: every reading, raw and corrected, with what it was computed with.

    Example: sillbook export-series TANSY --from 2026-07-01 --to 2026-07-31 --out series.csv
    """
    with verb(data) as session:
        place, flume_id = asked_for(session, site, structure)
        tell_stale(session, place)
        write(record_exports.series_of_days(session, flume_id, place, first, last), out)


def write(blocks: Iterator[str] | Iterator[bytes], out: Path | None) -> None:
    """Write text as UTF-8 with its own line ends, on every system, and bytes as they are."""
    pieces = (block.encode() if isinstance(block, str) else block for block in blocks)
    if out is None:
        for piece in pieces:
            sys.stdout.buffer.write(piece)
        sys.stdout.buffer.flush()
        return
    with out.open("wb") as file:
        file.writelines(pieces)
