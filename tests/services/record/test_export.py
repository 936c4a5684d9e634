"""daily.csv and series.csv: zero as 0, missing blank with a word, and there and back again.

CSV as of RFC 4180: comma, CRLF, one header row, the same cells in every row.
"""

import csv
import io
import json
from collections.abc import Callable
from datetime import date

import numpy as np
import pytest
import sqlalchemy as sa
from sqlmodel import Session

from app.language.tables import csv_lines, json_value
from app.records.people import Person
from app.records.sites import Structure
from app.services.days import daily
from app.services.record import charts as series_charts
from app.services.record import export as record_exports
from app.services.review import approval
from app.services.series import read as series_read
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, calm, log_text, times
from tests.services.days.test_rebuild import ONE_TO_ONE


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    made = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(40)
    head = calm(t)
    head[(t >= JULY + 5 * DAY) & (t <= JULY + 6 * DAY)] = 0.0
    keep = (t <= JULY + 10 * DAY) | (t >= JULY + 12 * DAY)
    made.take(log_text(t[keep], head[keep]))
    return made


def rows_of(text: str) -> list[dict[str, str]]:
    assert text.count("\r\n") == text.count("\n")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_daily_csv_says_zero_and_says_missing(bench: Bench) -> None:
    text = "".join(record_exports.daily_csv(bench.session, bench.id))
    rows = {row["day"]: row for row in rows_of(text)}
    assert rows["2025-07-06"]["volume_m3"] == "0.0"
    assert rows["2025-07-06"]["word"] == "no flow"
    assert rows["2025-07-12"]["volume_m3"] == ""
    assert rows["2025-07-12"]["mean_m3s"] == ""
    assert rows["2025-07-12"]["word"] == "missing"
    assert len(rows) == 41


def test_daily_csv_holds_the_daily_figures_to_the_last_digit(bench: Bench) -> None:
    rows = rows_of("".join(record_exports.daily_csv(bench.session, bench.id)))
    for got, want in zip(rows, daily.daily(bench.session, bench.id), strict=True):
        for key in ("volume_m3", "mean_m3s", "volume_uncertainty_m3", "measured_fraction"):
            # but for the dust of a sum, a last place or two: 17449.694999999996 is 17449.695
            assert (float(got[key]) if got[key] else None) == json_value(want[key])


def test_series_csv_comes_back_as_the_same_series(bench: Bench) -> None:
    engine = bench.session.get_bind()
    assert isinstance(engine, sa.Engine)
    bench.session.commit()
    text = "".join(record_exports.series_csv(engine, bench.id))
    rows = rows_of(text)
    held = series_read.load(bench.session, bench.id, names=("head_m", "discharge_m3s", "raw_m"))
    times_s = [
        int(np.datetime64(r["time_utc"].removesuffix("Z")).astype("M8[s]").astype(int))
        for r in rows
    ]
    assert times_s == held["t_s"].tolist()
    for name, column in (
        ("head_m", "head_m"),
        ("discharge_m3s", "discharge_m3s"),
        ("raw_m", "head_m_raw"),
    ):
        back = np.array([float(r[column]) if r[column] else np.nan for r in rows])
        assert np.array_equal(back, held[name], equal_nan=True)
    assert {r["how"] for r in rows} == {"measured"}
    assert {r["quality_word"] for r in rows} == {"unchecked"}
    assert rows[0]["site_time"] == "2025-07-01T00:00:00+12:00"
    told = json.loads("".join(record_exports.series_json(engine, bench.id)))
    assert [r["head_m"] for r in told["rows"]] == [float(r["head_m"]) for r in rows]


def test_an_exported_series_can_be_imported_again(
    bench: Bench, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    text = "".join(
        csv_lines(
            record_exports.SERIES_COLUMNS[:4], record_exports.series_rows(bench.session, bench.id)
        )
    )
    other = a_bench(
        bench.session, a_site, a_person, code="BACK", family="user_power", dims=ONE_TO_ONE
    )
    columns = {str(k): {"meaning": "not used"} for k in (2, 4)}
    columns["3"] = {"meaning": "head", "unit": "m"}
    other.take(text.encode(), answers={"columns": columns})
    a = series_read.load(bench.session, bench.id, names=("discharge_m3s",))
    b = series_read.load(bench.session, other.id, names=("discharge_m3s",))
    assert np.array_equal(a["t_s"], b["t_s"])
    assert np.array_equal(a["discharge_m3s"], b["discharge_m3s"])


def test_the_state_of_a_month_stands_in_the_files(bench: Bench) -> None:
    for revision, step in enumerate(("reviewed",)):
        approval.move(
            bench.session, bench.id, "2025-08", step, bench.person, NOW, revision=revision
        )
    rows = daily.daily(bench.session, bench.id, date(2025, 7, 31), date(2025, 8, 1))
    assert [row["state"] for row in rows] == ["draft", "reviewed"]
    words = {r["quality_word"] for r in record_exports.series_rows(bench.session, bench.id)}
    assert words == {"unchecked", "good"}


@pytest.mark.parametrize("days", [0.1, 1.0, 7.0, 39.0])
def test_no_peak_is_lost_at_any_zoom_and_gaps_stay_open(bench: Bench, days: float) -> None:
    held = series_read.load(bench.session, bench.id, names=("discharge_m3s",))
    rng = np.random.default_rng(5)
    for _ in range(20):
        begin = JULY + int(rng.uniform(0, 40 - days) * DAY)
        end = begin + int(days * DAY)
        inside = (held["t_s"] >= begin) & (held["t_s"] <= end)
        for columns in (10, 57, 900):
            view = series_charts.chart(bench.session, bench.id, begin, end, columns)
            highs = [x for x in view["high"] if x is not None]
            if not inside.any():
                assert highs == []
                continue
            assert max(highs) == held["discharge_m3s"][inside].max()
            assert min(x for x in view["low"] if x is not None) == (
                held["discharge_m3s"][inside].min()
            )
            if begin < JULY + 10 * DAY - 900 and end > JULY + 12 * DAY + 900:
                assert None in view["high"]


def test_years_are_drawn_from_sketches_that_lose_no_peak(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(900, begin_s=JULY - 500 * DAY, step_s=3600)
    head = calm(t)
    peak = 12_345
    head[peak] = 0.9
    keep = np.ones(t.size, bool)
    keep[8000:10000] = False
    bench.take(log_text(t[keep], head[keep]))
    for columns in (10, 90, 900, 5000):
        view = series_charts.chart(bench.session, bench.id, columns=columns)
        assert not view["full"]
        assert view["peak"] == {"t": int(t[peak]), "value": 0.9}
        assert max(x for x in view["high"] if x is not None) == 0.9
        assert view["high"].count(None) == 1
        assert [b["word"] for b in view["bands"] if b["kind"] == "how"] == ["gap"]
        assert len(view["t"]) <= columns + 3
