"""The quick writer of series.csv against the row by row one: the same bytes, whatever the values.

`csv_lines` over `series_rows` is the plain way to write the file: the csv module of Python, a cell
at a time with `csv_cell`.
"""

from collections.abc import Callable

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session

from app.hydraulics.base.arrays import figure_texts
from app.language.tables import csv_cell, csv_lines
from app.records.people import Person
from app.records.sites import Rating, Structure
from app.services.corrections import layers
from app.services.record.export import SERIES_COLUMNS, series_lines, series_rows
from tests.builders.record_files import DAY, JULY, NOW, a_bench, calm, log_text, times


@given(st.lists(st.floats(allow_subnormal=True), max_size=30))
def test_columns_of_figures_read_as_their_cells(values: list[float]) -> None:
    assert figure_texts(np.array(values, dtype=np.float64)) == [csv_cell(v) for v in values]


def test_sums_of_short_figures_read_as_their_cells() -> None:
    """Numbers that carry dust: sums of two figures as typed, at every power of ten."""
    rng = np.random.default_rng(7)
    short = rng.integers(-99_999, 99_999, (2, 4000)) / 10.0 ** rng.integers(0, 9, (2, 4000))
    values = np.concatenate([short[0] + short[1], short[0] - short[1], short[0] * 0.1, short[0]])
    values = np.concatenate([values, np.nextafter(values, 9e9), values * (1 + 9.99e-14)])
    edges = [10.0**k * (1 + d) for k in range(-20, 20) for d in (0, 1e-16, -1e-16, 9e-14, 1.1e-13)]
    values = np.concatenate([values, edges])
    assert figure_texts(values) == [csv_cell(v) for v in values.tolist()]


def test_the_quick_file_has_the_bytes_of_the_plain_one(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    """Over a new rating, a drowned stretch, no flow, a gap and a correction that was taken back."""
    bench = a_bench(session, a_site, a_person)
    t = times(50)
    head = calm(t)
    head[(t >= JULY + 5 * DAY) & (t <= JULY + 6 * DAY)] = 0.0
    head[100:110] = np.nan  # the logger left them blank
    tail = np.where(t < JULY + 20 * DAY, head * 0.98, 0.0)
    keep = (t <= JULY + 10 * DAY) | (t >= JULY + 12 * DAY)
    session.add(
        Rating(
            structure_id=bench.id,
            valid_from=NOW.fromtimestamp(JULY + 30 * DAY + 1234, NOW.tzinfo),
            family="parshall",
            dims={"size": "2ft"},
            reason="=a new throat",
        )
    )
    session.commit()
    bench.take(log_text(t[keep], head[keep], tail[keep]))
    for day, amount in ((15, "3"), (40, "-2")):
        form = bench.layer("offset", JULY + day * DAY, JULY + (day + 2) * DAY, amount=amount)
        made = layers.add_layer(session, bench.id, form, bench.person, NOW)
    layers.withdraw_layer(session, made.id, "a slip", bench.person, NOW)
    session.commit()
    plain = "".join(csv_lines(SERIES_COLUMNS, series_rows(session, bench.id)))
    assert "".join(series_lines(session, bench.id)) == plain
    assert len(plain.splitlines()) > 4500
    assert "submerged" in plain
    assert len({line.split(",")[-5] for line in plain.splitlines()}) > 2, "two ratings cited"
    part = (JULY + 3 * DAY, JULY + 3 * DAY + 5)
    assert "".join(series_lines(session, bench.id, *part)).count("\r\n") == 2
