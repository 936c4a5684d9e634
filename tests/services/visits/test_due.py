"""When a visit is due: counted by hand on a calendar; the rule itself is common practice."""

from datetime import date, timedelta

import pytest

from app.records.database import utc_now
from app.records.visits import VisitPlan
from app.services.visits.due import Due, due, in_season, interval_on


def plan(valid_from: str = "2024-01-01", every: int | None = 14, **fields: object) -> VisitPlan:
    day = date.fromisoformat(valid_from)
    made = {"site_id": 1, "by_id": 1, "added_at": utc_now(), "valid_from": day}
    return VisitPlan(**made, interval_days=every, **fields)


SEASON = {"season_begins": "09-01", "season_ends": "04-30"}


def on(text: str) -> date:
    return date.fromisoformat(text)


def asked(plans: list[VisitPlan], last: str | None, today: str) -> Due:
    return due(plans, on(last) if last else None, on(today))


@pytest.mark.parametrize(
    ("last", "today", "state", "due_on", "days"),
    [
        ("2026-11-01", "2026-11-10", "due soon", "2026-11-15", 5),
        ("2026-11-01", "2026-11-02", "later", "2026-11-15", 13),
        ("2026-11-01", "2026-11-15", "due today", "2026-11-15", 0),
        ("2026-11-01", "2026-11-16", "overdue", "2026-11-15", -1),
        ("2026-11-10", "2026-11-10", "later", "2026-11-24", 14),
        (None, "2026-11-10", "overdue", "2024-01-01", -1044),
    ],
)
def test_counted_from_the_last_visit(
    last: str | None, today: str, state: str, due_on: str, days: int
) -> None:
    found = asked([plan()], last, today)
    assert (found.state, found.on, found.days) == (state, on(due_on), days)


def test_words_have_the_right_number() -> None:
    assert asked([plan()], "2026-11-01", "2026-11-16").words == (
        "overdue by 1 day, since 2026-11-15"
    )
    assert asked([plan()], "2026-11-01", "2026-11-17").words.startswith("overdue by 2 days")
    assert asked([plan()], "2026-11-01", "2026-11-14").words == "due 2026-11-15, in 1 day"


@pytest.mark.parametrize("plans", [[], [plan(every=None)]])
def test_without_an_interval_it_says_so_and_never_fine(plans: list[VisitPlan]) -> None:
    for last in (None, "2026-11-09"):
        found = asked(plans, last, "2026-11-10")
        assert (found.state, found.words, found.on) == ("no interval set", "no interval set", None)


def test_a_season_over_new_year() -> None:
    held = plan(**SEASON)
    days = {"2026-08-31": False, "2026-09-01": True, "2027-01-01": True, "2027-04-30": True,
            "2027-05-01": False}  # fmt: skip
    assert {d: in_season(held, on(d)) for d in days} == days


def test_what_was_missed_before_a_rest_is_not_asked_for_in_it_or_counted_after_it() -> None:
    held = [plan(**SEASON)]
    resting = asked(held, "2026-03-20", "2026-06-15")
    assert (resting.state, resting.on) == ("out of season", on("2026-09-01"))
    assert resting.words == "out of season, next due 2026-09-01"
    late = asked(held, "2026-03-20", "2026-04-30")
    assert (late.state, late.on) == ("overdue", on("2026-04-03"))
    again = asked(held, "2026-03-20", "2026-09-03")
    assert (again.state, again.on, again.days) == ("overdue", on("2026-09-01"), -2)
    # fourteen days from 25 April lie in the rest: due when the season begins
    assert asked(held, "2026-04-25", "2026-04-28").on == on("2026-09-01")


def test_the_rest_of_the_year_may_have_an_interval_of_its_own() -> None:
    held = [plan(**SEASON, outside_days=60)]
    assert asked(held, "2026-04-25", "2026-05-10").on == on("2026-06-24")
    # on 1 September 14 days are asked for again, and 20 have passed
    assert asked(held, "2026-08-12", "2026-08-20").on == on("2026-09-01")


def test_saying_a_plan_anew_hides_nothing() -> None:
    plans = [plan(), plan("2026-11-20", person_id=7)]
    found = asked(plans, "2026-11-01", "2026-11-25")
    assert (found.state, found.on) == ("overdue", on("2026-11-15"))


def test_a_tighter_interval_asks_from_its_first_day_and_a_looser_one_lets_off() -> None:
    tighter = [plan(every=60), plan("2026-11-20", every=14)]
    assert asked(tighter, "2026-11-01", "2026-11-25").on == on("2026-11-20")
    looser = [plan(every=14), plan("2026-11-20", every=60)]
    found = asked(looser, "2026-11-01", "2026-11-25")
    assert (found.state, found.on) == ("later", on("2026-12-31"))


def test_of_two_plans_begun_together_the_newer_holds() -> None:
    plans = [plan(every=14, id=1), plan(every=30, id=2)]
    assert interval_on(plans, on("2026-11-01")) == 30


def test_a_plan_to_come_is_no_interval_yet() -> None:
    found = asked([plan("2026-12-01")], None, "2026-11-25")
    assert found.state == "no interval set"
    assert found.on == on("2026-12-01")
    assert "yet" in found.words


@pytest.mark.parametrize("every", [1, 7, 30, 366])
def test_the_rule_agrees_with_counting_day_by_day(every: int) -> None:
    plans = [plan("2023-01-01", every, **SEASON, outside_days=45), plan("2025-02-10", 21, **SEASON)]
    last = on("2024-12-20")
    for k in range(0, 700, 9):
        today = last + timedelta(days=k)
        found = due(plans, last, today)

        def wanted(day: date) -> bool:
            interval = interval_on(plans, day)
            return interval is not None and day > last and (day - last).days >= interval

        day = today
        if wanted(today):
            while wanted(day - timedelta(days=1)):
                day -= timedelta(days=1)
        else:
            while not wanted(day):
                day += timedelta(days=1)
        assert found.on == day, (today, found)
