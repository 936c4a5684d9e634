"""Months, water years and flow duration; numpy's own Weibull quantile is the reference."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.daily import daily_flow
from app.hydraulics.series.totals import (
    exceedance_pct,
    flow_exceeded,
    month_starts,
    period_totals,
    water_year_starts,
)
from tests.hydraulics.series.test_daily import agrees, rows


def day_number(text):
    return int(np.datetime64(text, "D").astype(int))


def constant(first, days, value=0.02):
    t = day_number(first) * DAY_S + np.arange(days * 24 + 1, dtype=np.int64) * 3600
    return daily_flow(t, np.full(t.size, value), uncertainty_pct=np.full(t.size, 4.0))


@pytest.mark.parametrize("row", rows("flow_duration"))
def test_flow_duration_of_the_practice_table(row):
    if "q_l_s" in row["given"]:
        value = flow_exceeded(np.array(row["given"]["q_l_s"], dtype=float), 50.0)[0]
    else:
        pct, _ = exceedance_pct(np.arange(float(row["given"]["n"])))
        value = pct[row["given"]["rank"] - 1]
    assert agrees(row, value)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(0, 100), min_size=2, max_size=40), st.floats(0, 100))
def test_flow_exceeded_vs_numpy_weibull_quantile(flows, pct):
    q = np.array(flows)
    got = flow_exceeded(q, pct)[0]
    edge = 100.0 / (q.size + 1)
    if edge <= pct <= 100.0 - edge:
        wanted = np.quantile(q, 1.0 - pct / 100.0, method="weibull")
        assert got == pytest.approx(wanted, rel=1e-9, abs=1e-9)
    elif not (np.isclose(pct, edge) or np.isclose(pct, 100 - edge)):
        assert np.isnan(got)  # never extrapolated


def test_flow_duration_leaves_the_missing_out():
    pct, flows = exceedance_pct(np.array([np.nan, 3.0, 1.0]))
    assert flows.tolist() == [3.0, 1.0]
    assert pct.tolist() == pytest.approx([100 / 3, 200 / 3])
    assert np.isnan(flow_exceeded(np.array([np.nan]), 50.0)[0])


def test_months_of_a_year_with_a_leap_day():
    days = constant("2027-07-01", 366)
    months = period_totals(days, month_starts(int(days.day[0]), int(days.day[-1])))
    assert months.days.tolist() == [31, 31, 30, 31, 30, 31, 31, 29, 31, 30, 31, 30]
    assert months.volume_m3 == pytest.approx(months.days * 1728.0)
    assert months.missing_fraction == pytest.approx(0.0)
    assert months.volume_uncertainty_m3 == pytest.approx(0.04 * months.volume_m3)
    assert np.array_equal(months.full_days, months.days)


def test_water_year_from_first_july_holds_twelve_months():
    starts = water_year_starts(day_number("2026-06-30"), day_number("2027-07-01"))
    wanted = ["2025-07-01", "2026-07-01", "2027-07-01", "2028-07-01"]
    assert starts.tolist() == [day_number(text) for text in wanted]
    year = period_totals(constant("2026-07-01", 365), starts)
    assert np.isnan(year.volume_m3[[0, 2]]).all()
    assert year.volume_m3[1] == pytest.approx(365 * 1728.0)
    with pytest.raises(BadInput, match="water year"):
        water_year_starts(0, 1, month=2, day=29)


def test_days_without_any_row_count_as_missing():
    days = constant("2026-07-01", 10)
    month = period_totals(days, month_starts(int(days.day[0]), int(days.day[0])))
    assert month.missing_fraction[0] == pytest.approx(21 / 31)
    assert month.volume_m3[0] == pytest.approx(10 * 1728.0)


def test_extremes_of_a_period_carry_their_time():
    t = day_number("2026-07-01") * DAY_S + np.arange(96 * 40, dtype=np.int64) * 900
    q = np.full(t.size, 0.02)
    q[50], q[3500] = 0.9, 0.8
    days = daily_flow(t, q)
    months = period_totals(days, month_starts(int(days.day[0]), int(days.day[-1])))
    assert months.high_m3s.tolist() == [0.9, 0.8]
    assert months.high_at_s.tolist() == [t[50], t[3500]]


def test_starts_must_ascend():
    with pytest.raises(BadInput, match="ascending"):
        period_totals(constant("2026-07-01", 2), np.array([5, 5]))
