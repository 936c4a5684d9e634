"""What a race carries at most bounds what nobody recorded; figures are derived by hand.

Discharge in m3/s = head in m; 20 L/s are 1728 m3 a day; ten days without record at a capacity of
50 L/s are at most 43,200 m3.
"""

from collections.abc import Callable
from datetime import date

import numpy as np
import pytest
from sqlmodel import Session

from app.errors import BadInput
from app.records.people import Person
from app.records.sites import Structure
from app.services.takes import capacity as race_capacity
from app.services.takes import page as take_views
from app.services.takes import use as takes
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, log_text, times
from tests.services.days.test_rebuild import ONE_TO_ONE
from tests.services.takes.test_use import limit

END = date(2025, 8, 9)  # ten days after thirty days of record


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    made = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(30)
    made.take(log_text(t, np.full(t.size, 0.020)))
    return made


def state(bench: Bench, kind: str, amount: str = "", **fields: str) -> None:
    form = {"kind": kind, "amount": amount, "valid_from": "2025-01-01", "reason": "bank", **fields}
    race_capacity.add_capacity(bench.session, bench.id, form, bench.person, NOW)
    bench.session.commit()


def test_without_a_statement_nobody_can_tell_whatever_the_rating_covers(bench: Bench) -> None:
    for kind, amount in (("season", "9e8"), ("daily", "9e8"), ("rate", "1000")):
        use = takes.use_of(bench.session, limit(bench, kind, amount), END)
        assert use.verdict == "cannot tell"
        assert "capacity is not stated" in use.words
        assert use.high is None


@pytest.mark.parametrize(("kind", "amount"), [("flow", "0.050"), ("head", "47.8")])
def test_a_stated_capacity_bounds_the_days_without_record(
    bench: Bench, kind: str, amount: str
) -> None:
    state(bench, kind, amount)
    use = takes.use_of(bench.session, limit(bench, "season", "120000"), END)
    assert use.capacity_m3s is not None
    # a bank-full head is taken with the upper bound of its flow: U is 8 % there (5 % and 3 mm)
    by_head = 0.0478 * (1 + np.hypot(0.05, 0.003 / 0.0478))
    rate = {"flow": 0.05, "head": by_head}[kind]
    assert use.capacity_m3s == pytest.approx(rate, rel=1e-9)
    assert use.used is not None
    assert use.uncertainty is not None
    assert use.high == pytest.approx(use.used + use.uncertainty + 10 * DAY * rate)
    assert use.verdict == "within"
    assert takes.use_of(bench.session, limit(bench, "season", "90000"), END).verdict == (
        "cannot tell"
    )
    assert takes.use_of(bench.session, limit(bench, "daily", "5000"), END).verdict == "within"
    assert takes.use_of(bench.session, limit(bench, "daily", "3000"), END).verdict == "cannot tell"
    assert takes.use_of(bench.session, limit(bench, "rate", "0.06"), END).verdict == "within"
    rate_now = takes.use_of(bench.session, limit(bench, "rate", "0.04"), END)
    assert (rate_now.verdict, rate_now.high) == ("cannot tell", pytest.approx(rate))


def test_a_capacity_is_never_less_than_what_was_seen(bench: Bench) -> None:
    state(bench, "flow", "0.010")
    found = race_capacity.capacity(bench.session, bench.id, date(2025, 7, 1), END)
    assert found.rate_m3s == pytest.approx(0.020)
    assert "the record has shown" in found.words


def test_statements_are_dated_and_can_be_taken_back(bench: Bench) -> None:
    state(bench, "flow", "0.05", valid_from="2025-07-20")
    early = race_capacity.capacity(bench.session, bench.id, date(2025, 7, 1), END)
    assert early.rate_m3s is None
    assert "before 2025-07-20" in early.words
    state(bench, "flow", "0.08", valid_from="2025-08-01")
    both = race_capacity.capacity(bench.session, bench.id, date(2025, 7, 25), END)
    assert both.rate_m3s == 0.08  # the larger of those that held
    state(bench, "unknown", valid_from="2025-08-05")
    lost = race_capacity.capacity(bench.session, bench.id, date(2025, 7, 25), END)
    assert lost.rate_m3s is None
    assert len(race_capacity.lines(bench.session, bench.id)) == 3


def test_heads_of_unknown_flow_above_bank_full_refute_it(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(3)
    head, tail = np.full(t.size, 0.2), np.full(t.size, 0.05)
    head[100], tail[100] = 0.4, 0.39  # drowned: not determined
    bench.take(log_text(t, head, tail))
    state(bench, "head", "0.3", unit="m")
    found = race_capacity.capacity(session, bench.id, date(2025, 7, 1), date(2025, 7, 3))
    assert found.rate_m3s is None
    assert "not determined" in found.words
    state(bench, "head", "0.5", unit="m", valid_from="2025-01-02")
    assert race_capacity.capacity(
        session, bench.id, date(2025, 7, 1), date(2025, 7, 3)
    ).rate_m3s == pytest.approx(0.5 * (1 + np.hypot(0.05, 0.003 / 0.5)))


def test_partly_recorded_days_and_gaps_within_a_day(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    """Four hours missing of a day of 20 L/s: 1440 m3 and at most 4 h of 50 L/s, 720 m3, more."""
    bench = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(3)
    keep = (t <= JULY + DAY + 6 * 3600) | (t >= JULY + DAY + 10 * 3600)
    bench.take(log_text(t[keep], np.full(int(keep.sum()), 0.020)))
    state(bench, "flow", "0.050")
    line = limit(bench, "daily", "2600")
    use = takes.use_of(bench.session, line, date(2025, 7, 3))
    u = np.hypot(0.05, 0.003 / 0.02)
    assert use.missing_h == pytest.approx(4.0)
    assert use.high == pytest.approx(max(1728 * (1 + u), 1440 * (1 + u) + 720), rel=1e-6)
    assert use.verdict == "within"
    tight = takes.use_of(bench.session, limit(bench, "daily", "2200"), date(2025, 7, 3))
    assert (tight.verdict, tight.times_unknown) == ("cannot tell", 1)
    heat = take_views.heat(bench.session, bench.id, date(2025, 7, 3))
    first = {day["day"]: day["verdict"] for day in heat["days"][:3]}
    assert first == {"2025-07-01": "within", "2025-07-02": "cannot tell", "2025-07-03": "within"}
    left = takes.use_of(bench.session, limit(bench, "residual", "0.010"), date(2025, 7, 3))
    assert left.verdict == "cannot tell"  # whoever looked away does not know what was left


def test_a_bridged_hour_does_not_hide_a_rate_between_readings(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    """Half an hour is bridged: 20 mm of head (common practice) are 20 L/s here, in squares."""
    bench = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(3)
    keep = np.delete(np.arange(t.size), [50])
    bench.take(log_text(t[keep], np.full(keep.size, 0.100)))
    usual = 0.1 * np.hypot(0.05, 0.03)
    upper = 0.1 + np.hypot(usual, 0.020)
    for amount, word in ((upper * 0.99, "cannot tell"), (upper * 1.01, "within")):
        use = takes.use_of(bench.session, limit(bench, "rate", f"{amount:.6f}"), date(2025, 7, 3))
        assert (use.verdict, use.missing_h) == (word, pytest.approx(0.0))
        assert use.high == pytest.approx(upper, rel=1e-5)


def test_a_limit_without_any_record_is_never_among_the_quiet_ones(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    limit(bench, "season", "1000", valid_from="2026-01-01")
    (alert,) = take_views.alerts(session)
    assert alert.verdict == "cannot tell"


@pytest.mark.parametrize(
    ("form", "field"),
    [
        ({"kind": "depth"}, "kind"),
        ({"amount": ""}, "amount"),
        ({"amount": "-1"}, "amount"),
        ({"kind": "head", "amount": "30", "unit": "m"}, "amount"),
        ({"kind": "head", "unit": "furlong"}, "unit"),
        ({"valid_from": ""}, "valid_from"),
        ({"reason": " "}, "reason"),
    ],
)
def test_an_impossible_statement_is_refused(bench: Bench, form: dict[str, str], field: str) -> None:
    whole = {"kind": "flow", "amount": "1", "valid_from": "2025-01-01", "reason": "r", **form}
    with pytest.raises(BadInput) as refused:
        race_capacity.add_capacity(bench.session, bench.id, whole, bench.person, NOW)
    assert refused.value.field == field
