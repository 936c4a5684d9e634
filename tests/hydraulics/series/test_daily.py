"""Daily flow against worked arithmetic, scipy's trapezoid and the properties of an integral."""

import csv
import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid

from app.errors import BadInput
from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.daily import daily_flow, total_volume_m3
from app.hydraulics.series.layers import How
from app.hydraulics.series.stretches import (
    closed,
    day_start_s,
    gap_rule_s,
    stretches,
    usual_step_s,
)
from tests.paths import TABLES

TABLE = TABLES / "series_practice.csv"
with TABLE.open(encoding="utf-8", newline="") as lines:
    ROWS = [row | {"given": json.loads(row["inputs"])} for row in csv.DictReader(lines)]


def rows(topic):
    return [pytest.param(row, id=row["quantity"]) for row in ROWS if row["topic"] == topic]


def agrees(row, value):
    """Agree within the table's tolerance and half a unit of its last printed place."""
    printed = row["expected"]
    places = len(printed.partition(".")[2])
    wanted = float(printed)
    return abs(value - wanted) <= float(row["tolerance_rel"]) * abs(wanted) + 0.5 * 10.0**-places


def quarter_hours(days=1, start_day=20_000, value=0.02):
    t = start_day * DAY_S + np.arange(days * 96 + 1, dtype=np.int64) * 900
    return t, np.full(t.size, value)


@pytest.mark.parametrize("row", rows("daily_volume"))
def test_daily_volume_of_the_practice_table(row):
    given_ = row["given"]
    if "t_s" in given_:
        t, q = np.array(given_["t_s"], dtype=np.int64), np.array(given_["q_l_s"]) / 1000.0
    else:
        t, q = quarter_hours(value=given_["q_l_s_constant"] / 1000.0)
        assert given_["hours"] == 24
    day = daily_flow(t, q, gap_s=DAY_S)
    if row["quantity"] == "volume":
        assert agrees(row, day.volume_m3[0])
    elif row["quantity"] == "time_weighted_mean":
        assert agrees(row, 1000.0 * day.mean_m3s[0])
    else:  # the plain average: shown wrong, and not what we give
        assert agrees(row, 1000.0 * q.mean())
        assert abs(1000.0 * day.mean_m3s[0] - float(row["expected"])) > 1.0


@pytest.mark.parametrize("row", rows("missing"))
def test_missing_fraction_of_the_practice_table(row):
    t, q = quarter_hours()
    q[:96:16] = np.nan  # six single readings
    t, q = t[:96], q[:96]
    assert np.isfinite(q).sum() == row["given"]["present"]
    day = daily_flow(t, q)
    assert agrees(row, 100.0 * day.missing_fraction[0])
    assert day.readings[0] == 90


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.integers(1, 7200), st.floats(0.0, 5.0)), min_size=2, max_size=60),
    st.integers(-14 * 60, 14 * 60),
    st.integers(0, 4_000_000_000),
)
def test_days_add_up_to_the_whole_in_every_time_zone_vs_scipy(steps, offset_min, start):
    t = start + np.cumsum([step for step, _ in steps]).astype(np.int64)
    q = np.array([value for _, value in steps])
    days = daily_flow(t, q, utc_offset_min=offset_min, gap_s=7200)
    whole = trapezoid(q, t.astype(float))  # general reference library
    assert np.nansum(days.volume_m3) == pytest.approx(whole, rel=1e-9, abs=1e-9)
    assert total_volume_m3(t, q, gap_s=7200) == pytest.approx(whole, rel=1e-12, abs=1e-12)
    assert np.all(np.diff(days.day) == 1)
    covered = days.measured_s + days.estimated_s
    assert covered.sum() == t[-1] - t[0]
    known = covered > 0
    slack = 1e-9
    assert np.all(days.low_m3s[known] <= days.mean_m3s[known] + slack)
    assert np.all(days.mean_m3s[known] <= days.high_m3s[known] + slack)
    assert np.nanmax(days.high_m3s) == q.max()


def test_a_gap_is_never_bridged_and_never_counted():
    t, q = quarter_hours(days=2)
    keep = np.ones(t.size, dtype=bool)
    keep[40:60] = False  # 09:45 to 15:00: five and a quarter hours between readings
    days = daily_flow(t[keep], q[keep])
    assert days.missing_s[0] == 21 * 900
    assert days.volume_m3[0] == pytest.approx(0.02 * (DAY_S - 21 * 900))
    assert days.mean_m3s[0] == pytest.approx(0.02)
    assert days.partial.tolist() == [True, False]
    assert days.missing_fraction[0] == pytest.approx(20 / 96)


@pytest.mark.parametrize(("spacing", "covered"), [(3600, 3600), (3601, 0)])
def test_the_gap_rule_holds_to_the_second(spacing, covered):
    t = np.array([0, 900, 1800, 2700, 2700 + spacing], dtype=np.int64)
    day = daily_flow(t, np.ones(5))
    assert day.measured_s[0] + day.estimated_s[0] == 2700 + covered
    assert day.estimated_s[0] == covered


def test_short_holes_are_estimated_and_kept_apart():
    t, q = quarter_hours()
    q[10:12] = np.nan  # 45 min between readings
    day = daily_flow(t, q)
    assert day.estimated_s[0] == 2700
    assert day.estimated_m3[0] == pytest.approx(0.02 * 2700)
    assert day.measured_m3[0] + day.estimated_m3[0] == pytest.approx(1728.0)


def test_no_record_is_not_crossed_however_short():
    t, q = quarter_hours()
    how = np.zeros(t.size, dtype=np.int8)
    q[10], how[10] = np.nan, How.NO_RECORD
    day = daily_flow(t, q, how=how)
    assert day.missing_s[0] == 1800


def test_zero_flow_is_zero_and_a_missing_day_is_unknown():
    t, q = quarter_hours(days=3, value=0.0)
    q[96:193] = np.nan
    days = daily_flow(t, q)
    assert days.volume_m3[0] == 0.0
    assert np.isnan(days.volume_m3[1])
    assert days.missing_fraction[1] == 1.0
    assert np.isnan(days.mean_m3s[1])


def test_extremes_have_their_times():
    t, q = quarter_hours()
    q[33], q[70] = 0.5, 0.001
    day = daily_flow(t, q)
    assert (day.high_m3s[0], day.high_at_s[0]) == (0.5, t[33])
    assert (day.low_m3s[0], day.low_at_s[0]) == (0.001, t[70])


def test_a_lone_reading_between_gaps_still_shows_its_peak():
    t = np.array([0, 20_000, 40_000], dtype=np.int64)
    day = daily_flow(t, np.array([0.1, 9.0, 0.1]))
    assert day.high_m3s[0] == 9.0
    assert np.isnan(day.volume_m3[0])


def test_volume_uncertainty_is_the_upper_bound_of_fully_alike_errors():
    t, q = quarter_hours()
    day = daily_flow(t, q, uncertainty_pct=np.full(t.size, 5.0))
    assert day.volume_uncertainty_m3[0] == pytest.approx(0.05 * 1728.0)


def test_asked_days_outside_the_record_are_there_and_empty():
    t, q = quarter_hours()
    days = daily_flow(t, q, from_day=19_999, to_day=20_001)
    assert days.day.tolist() == [19_999, 20_000, 20_001]
    assert np.isnan(days.volume_m3[[0, 2]]).all()
    assert days.volume_m3[1] == pytest.approx(1728.0)
    nothing = np.empty(0, dtype=np.int64), np.empty(0)
    assert daily_flow(*nothing).day.size == 0
    assert daily_flow(*nothing, from_day=5, to_day=6).missing_fraction.tolist() == [1.0, 1.0]


def test_site_days_follow_the_fixed_offset():
    assert day_start_s(np.array([1]), 720)[0] == DAY_S - 43_200


def test_usual_step_and_gap_rule():
    t, _ = quarter_hours()
    assert usual_step_s(t) == 900
    assert usual_step_s(np.array([0, 1, 3, 7, 15])) is None
    assert usual_step_s(np.array([5])) is None
    assert gap_rule_s(t) == 3600
    assert gap_rule_s(t[::24]) == 32_400  # a six-hourly logger is not all gaps


def test_bad_arrays_are_refused_with_a_remedy():
    t, q = quarter_hours()
    for arguments in ((t, q[1:]), (t[::-1].copy(), q)):
        with pytest.raises(BadInput) as refused:
            stretches(*arguments)
        assert refused.value.remedy
    with pytest.raises(BadInput, match="gap"):
        stretches(t, q, gap_s=0)


def test_a_reading_not_determined_is_never_bridged():
    """Numpy recomputation: the trapezoid of the parts on either side, nothing between them."""
    t, q = quarter_hours()
    head = np.full(t.size, 0.2)
    lost = np.array([40, 41, 60])
    q[lost] = np.nan
    how = closed(np.zeros(t.size, np.int8), head, q)
    assert how[lost].tolist() == [How.NO_RECORD] * 3
    day = daily_flow(t, q, how=how, uncertainty_pct=np.full(t.size, 5.0))
    known = sum(trapezoid(q[a:b], t[a:b]) for a, b in ((0, 40), (42, 60), (61, 97)))
    assert day.volume_m3[0] == pytest.approx(known)
    assert day.estimated_s[0] == 0.0
    assert day.missing_s[0] == 5 * 900
    assert total_volume_m3(t, q, how=how) == pytest.approx(known)
    # a value the logger left blank is a missing reading: bridged and kept apart, as ever
    head[lost] = np.nan
    blank = daily_flow(t, q, how=closed(np.zeros(t.size, np.int8), head, q))
    assert blank.missing_s[0] == 0.0
    assert blank.estimated_s[0] == 5 * 900


def test_an_estimated_stretch_carries_its_own_spread():
    """By hand: rating 5 %, estimate 25 %, ends 0.02 and 0.03 m3/s over 30 minutes."""
    t, q = quarter_hours()
    q[50:] = 0.03
    pct, own = np.full(t.size, 5.0), np.full(t.size, 25.0)
    whole = daily_flow(t, q, uncertainty_pct=pct, estimate_pct=own)
    q[49] = q[50] = np.nan
    # from reading 48 (0.02) to 51 (0.03): 45 minutes
    day = daily_flow(t, q, uncertainty_pct=pct, estimate_pct=own)
    assert day.estimated_s[0] == 2700
    measured = 0.05 * (0.02 * 48 * 900 + 0.03 * 45 * 900)
    estimated = np.hypot(0.25 * 0.025, 0.005) * 2700
    assert day.volume_uncertainty_m3[0] == pytest.approx(measured + estimated)
    assert day.volume_uncertainty_m3[0] > whole.volume_uncertainty_m3[0]
    # a person's line carries its own figures already, and its slope is no doubt
    q[49] = q[50] = 0.025
    how = np.zeros(t.size, np.int8)
    how[48:52] = How.ESTIMATED
    drawn = daily_flow(t, q, uncertainty_pct=pct, estimate_pct=pct, how=how)
    assert drawn.volume_uncertainty_m3[0] == pytest.approx(0.05 * drawn.volume_m3[0], rel=1e-9)
