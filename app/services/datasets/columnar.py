"""Series and readings as Parquet, in folders by site and water year, written block by block.

Apache Parquet by pyarrow (the extra `parquet`); folders in the manner `site=…/water_year=…`. A
missing figure is null; words are dictionaries; an instant is a timestamp in UTC.
"""

import io
from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import Any

import numpy as np
from sqlmodel import Session

from app.language.columns import kind_of, unit_of
from app.language.tables import Column, csv_lines
from app.records.sites import Site
from app.services.datasets.bundle import CODEBOOK
from app.services.datasets.parts import COLUMNS_OF, seconds
from app.services.datasets.tables import codebook
from app.services.datasets.zips import File
from app.services.readings.export import reading_rows
from app.services.readings.list import Span
from app.services.record.blocks import SERIES_FIGURES, Block, blocks
from app.services.settings import in_force as settings
from app.services.sites.register import structures_of


def files(session: Session, sites: Iterable[Site], what: str, span_of_site: Any) -> Iterator[File]:
    """Yield the files of a data set, a site, structure and water year each, and the codebook.

    Parameters
    ----------
    span_of_site
        Gives the asked range of days on the clock of a site.
    """
    book = codebook()
    yield CODEBOOK, csv_lines(book.columns, book.rows)
    start = settings.water_year_start(session)
    make = _series if what == "series" else _readings
    for site in sites:
        yield from make(session, site, span_of_site(site), start)


def folder(site: Site, year: int) -> str:
    """Return the folder of a site and water year; the site by its id, whatever its code holds."""
    return f"site={site.id}/water_year={year}"


def water_year(t_s: Any, utc_offset_min: int, start: tuple[int, int]) -> Any:
    """Return the calendar year in which the water year of each instant begins, by site time."""
    days = (np.asarray(t_s) + utc_offset_min * 60).astype("M8[s]").astype("M8[D]")
    years = days.astype("M8[Y]").astype(np.int64) + 1970
    month, day = start
    into = days.astype("M8[M]").astype(np.int64) % 12 + 1
    of_month = (days - days.astype("M8[M]")).astype(np.int64) + 1
    return years - ((into < month) | ((into == month) & (of_month < day)))


def _series(session: Session, site: Site, span: Span, start: tuple[int, int]) -> Iterator[File]:
    begin, end = seconds(span)
    for structure in structures_of(session, site.id or 0):
        key = structure.id or 0
        held: list[Any] = []
        open_year: int | None = None
        for block in blocks(session, key, begin, end):
            years = water_year(block.t_s, site.utc_offset_min, start)
            for year in np.unique(years).tolist():
                if open_year not in (None, year):
                    yield _file(site, open_year or 0, f"series-{key}", held)
                    held = []
                open_year = year
                held.append(series_batch(site, key, block, years == year))
        if held:
            yield _file(site, open_year or 0, f"series-{key}", held)


def series_batch(site: Site, structure_id: int, block: Block, inside: Any) -> Any:
    """Return the rows of a block as a batch of columns, none of them touched one by one."""
    import pyarrow as pa

    which = pa.array(block.which[inside].astype(np.int32))
    count = int(np.count_nonzero(inside))
    columns: dict[str, Any] = {
        "site_code": _worded(pa.array(np.zeros(count, np.int32)), [site.code]),
        "structure_id": pa.array(np.full(count, structure_id)),
        "time_utc": pa.array(block.t_s[inside], pa.int64()).cast(pa.timestamp("s", "UTC")),
    }
    for name in SERIES_FIGURES:
        key = "head_m_raw" if name == "raw_m" else name
        columns[key] = pa.array(block.figures[name][inside], from_pandas=True)  # NaN is null
    for column in COLUMNS_OF["series"]:
        if column.key in columns or column.key == "site_time":
            continue
        values = block.values(column.key)
        if kind_of(column) == "integer":
            columns[column.key] = pa.array(values, pa.int64()).take(which)
        else:
            texts = ["; ".join(map(str, v)) if isinstance(v, list) else str(v) for v in values]
            columns[column.key] = _worded(which, texts)
    return pa.record_batch(list(columns.values()), schema=_schema(columns))


def _worded(which: Any, texts: list[str]) -> Any:
    import pyarrow as pa

    return pa.DictionaryArray.from_arrays(which, pa.array(texts)).cast(pa.string())


def _schema(columns: dict[str, Any]) -> Any:
    import pyarrow as pa

    known = {column.key: column for column in COLUMNS_OF["series"]}
    return pa.schema(
        [pa.field(key, one.type, metadata=_said(known.get(key))) for key, one in columns.items()]
    )


def _said(column: Column | None) -> dict[str, str]:
    if column is None:
        return {}
    return {"title": column.title, "unit": unit_of(column) or ""}


def _file(site: Site, year: int, name: str, batches: list[Any]) -> File:
    return f"{folder(site, year)}/{name}.parquet", [_bytes(batches)]


def _bytes(batches: list[Any]) -> bytes:
    import pyarrow as pa
    import pyarrow.parquet as pq

    out = io.BytesIO()
    pq.write_table(pa.Table.from_batches(batches), out, compression="zstd")
    return out.getvalue()


def _readings(session: Session, site: Site, span: Span, start: tuple[int, int]) -> Iterator[File]:
    import pyarrow as pa

    columns = COLUMNS_OF["readings"]
    types = {
        "number": pa.float64(),
        "integer": pa.int64(),
        "boolean": pa.bool_(),
        "list": pa.list_(pa.string()),
    }
    schema = pa.schema(
        [
            pa.field(
                one.key,
                pa.timestamp("us", "UTC")
                if one.title.endswith(", UTC")
                else types.get(kind_of(one), pa.string()),
                metadata=_said(one),
            )
            for one in columns
        ]
    )

    def year_of(row: dict[str, Any]) -> int:
        return int(water_year(int(row["observed_at"].timestamp()), site.utc_offset_min, start))

    for year, rows in groupby(reading_rows(session, site, span), year_of):
        cells = [{one.key: _cell(row.get(one.key), one) for one in columns} for row in rows]
        batch = pa.RecordBatch.from_pylist(cells, schema=schema)
        yield _file(site, year, "readings", [batch])


def _cell(value: Any, column: Column) -> Any:
    kind = kind_of(column)
    if value is None or column.title.endswith(", UTC"):
        return value
    if kind == "list":
        return [str(one) for one in (value if isinstance(value, list | tuple) else [value])]
    if kind in ("number", "integer", "boolean"):
        return None if value != value or value == "" else value
    return value.isoformat() if hasattr(value, "isoformat") else str(value)
