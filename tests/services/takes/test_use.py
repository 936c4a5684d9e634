"""Limits and what was taken against them; figures of the verdicts are derived by hand.

Words: over only when the lower bound is over, within only when the upper bound is within.
"""

from collections.abc import Callable
from datetime import date

import numpy as np
import pytest
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.records.people import Person
from app.records.sites import Structure
from app.services.record import charts as series_charts
from app.services.takes import limits as take_limits
from app.services.takes import page as take_views
from app.services.takes import use as takes
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, log_text, times
from tests.services.days.test_rebuild import ONE_TO_ONE


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    """Give 30 days of a steady 20 L/s: 1728 m3 a day (derived)."""
    made = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(30)
    made.take(log_text(t, np.full(t.size, 0.020)))
    return made


def limit(bench: Bench, kind: str, amount: str, **fields: str) -> take_limits.LimitLine:
    form = {"kind": kind, "amount": amount, "valid_from": "2025-07-01", **fields}
    row = take_limits.add_limit(bench.session, bench.id, form, bench.person, NOW)
    bench.session.commit()
    return take_limits.limit_line(bench.session, row.id or 0)


def test_a_season_against_its_volume(bench: Bench) -> None:
    line = limit(bench, "season", "100000")
    use = takes.use_of(bench.session, line, date(2025, 7, 30))
    assert use.used == pytest.approx(30 * 1728.0)
    assert use.used_pct == pytest.approx(51.84)
    assert (use.verdict, use.first, use.last) == ("within", date(2025, 7, 1), date(2026, 6, 30))
    assert use.missing_h == pytest.approx(0.0)
    assert use.low is not None
    assert use.high is not None
    assert use.low < use.used < use.high
    assert use.projection is not None
    assert use.projection["expected"] == pytest.approx(365 * 1728.0)
    # 100000 m3 at 1728 m3 a day last 57.87 days: reached on the 58th
    assert use.projection["reached_day"] == date(2025, 8, 27)
    assert use.projection["verdict"] == "over"


def test_the_words_follow_the_uncertainty(bench: Bench) -> None:
    used = 30 * 1728.0
    spread = takes.use_of(
        bench.session, limit(bench, "season", "100000"), date(2025, 7, 30)
    ).uncertainty
    assert spread is not None
    for amount, word in (
        (used - 1.2 * spread, "over"),
        (used - 0.5 * spread, "cannot tell"),
        (used + 0.5 * spread, "cannot tell"),
        (used + 1.2 * spread, "within"),
    ):
        line = limit(bench, "season", f"{amount:.3f}")
        assert takes.use_of(bench.session, line, date(2025, 7, 30)).verdict == word


def test_time_without_record_is_never_within(bench: Bench) -> None:
    line = limit(bench, "season", "400000")
    use = takes.use_of(bench.session, line, date(2025, 8, 9))  # ten days after the record ends
    assert use.missing_h == pytest.approx(240.0)
    assert use.verdict == "cannot tell"


def test_months_and_days_have_their_own_limits(bench: Bench) -> None:
    month = takes.use_of(bench.session, limit(bench, "monthly", "60000"), date(2025, 7, 30))
    assert (month.first, month.last) == (date(2025, 7, 1), date(2025, 7, 31))
    assert month.used == pytest.approx(30 * 1728.0)
    day = takes.use_of(bench.session, limit(bench, "daily", "1000"), date(2025, 7, 30))
    assert (day.verdict, day.times_over) == ("over", 30)
    assert day.used == pytest.approx(1728.0)


def test_rates_at_an_instant_and_over_a_window(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(5)
    head = np.full(t.size, 0.020)
    head[200] = 0.050  # a quarter of an hour up, a quarter down: 0.020 + 0.030 / 4 over an hour
    bench.take(log_text(t, head))
    instant = takes.use_of(bench.session, limit(bench, "rate", "0.030"), date(2025, 7, 5))
    assert (instant.verdict, instant.times_over) == ("over", 1)
    assert instant.used == pytest.approx(0.050)
    hour = limit(bench, "rate", "0.0320", window_min="60")
    use = takes.use_of(bench.session, hour, date(2025, 7, 5))
    assert use.used == pytest.approx(0.0275)
    assert use.verdict == "within"


def test_residual_flow_is_broken_when_too_little_is_left(bench: Bench) -> None:
    enough = takes.use_of(bench.session, limit(bench, "residual", "0.010"), date(2025, 7, 30))
    assert (enough.verdict, enough.used) == ("within", pytest.approx(0.020))
    broken = takes.use_of(bench.session, limit(bench, "residual", "0.040"), date(2025, 7, 30))
    assert broken.verdict == "over"
    assert "less was left" in broken.words


def test_limits_are_dated_and_ended_never_changed(bench: Bench) -> None:
    line = limit(bench, "season", "100000")
    form = {"last_day": "2025-07-15", "reason": "new permit"}
    take_limits.end_limit(bench.session, line.id, form, bench.person, NOW)
    ended = take_limits.limit_line(bench.session, line.id)
    assert (ended.amount, ended.valid_to) == (100000.0, date(2025, 7, 15))
    assert takes.use(bench.session, bench.id, date(2025, 7, 20)) == []
    history = take_views.history_of_use(bench.session, bench.id, line.id)
    assert [use.used for use in history] == [pytest.approx(15 * 1728.0)]
    with pytest.raises(BadInput, match="Add a new one"):
        take_limits.end_limit(bench.session, line.id, form, bench.person, NOW)
    with pytest.raises(NotFound):
        take_limits.limit_line(bench.session, 999)


@pytest.mark.parametrize(
    ("form", "field"),
    [
        ({"kind": "weekly"}, "kind"),
        ({"amount": "-1"}, "amount"),
        ({"amount": ""}, "amount"),
        ({"window_min": "60"}, "window_min"),
        ({"valid_from": ""}, "valid_from"),
        ({"valid_to": "2020-01-01"}, "valid_to"),
        ({"season_begins": "02-30"}, "season_begins"),
    ],
)
def test_a_limit_that_cannot_be_is_refused(bench: Bench, form: dict[str, str], field: str) -> None:
    whole = {"kind": "season", "amount": "1", "valid_from": "2025-07-01", **form}
    with pytest.raises(BadInput) as refused:
        take_limits.add_limit(bench.session, bench.id, whole, bench.person, NOW)
    assert refused.value.field == field


def test_alerts_calendar_and_the_volume_against_its_limit(bench: Bench) -> None:
    limit(bench, "daily", "1000")
    limit(bench, "season", "10000000")
    found = take_views.alerts(bench.session)
    assert [(use.limit.kind, use.verdict) for use in found] == [("daily", "over")]
    heat = take_views.heat(bench.session, bench.id, date(2025, 7, 30))
    assert len(heat["days"]) == 365
    assert heat["days"][0]["share"] == pytest.approx(1.728)
    assert heat["days"][0]["verdict"] == "over"
    assert heat["days"][-1]["word"] == "to come"
    whole = series_charts.cumulative(bench.session, bench.id, as_of=date(2025, 7, 30))
    assert whole["volume_m3"][-1] == pytest.approx(30 * 1728.0)
    assert whole["limit_m3"] == 10_000_000.0
    assert whole["t"][-1] == JULY + 30 * DAY
