"""Whether an instrument was in date on a day; the rule is common practice."""

from datetime import date

import pytest

from app.services.equipment.fitness import Check, state_on


def check(day: str, due: str | None = None, outcome: str = "fit") -> Check:
    due_on = date.fromisoformat(due) if due else None
    return Check(date.fromisoformat(day), outcome, due_on, "calibration")


YEARLY = [check("2024-03-01", "2025-03-01"), check("2025-06-01", "2026-06-01")]


@pytest.mark.parametrize(
    ("day", "word"),
    [
        ("2024-02-29", "unknown"),  # what came later does not judge it
        ("2024-03-01", "in date"),
        ("2025-03-01", "in date"),  # the day it is due is the last one
        ("2025-03-02", "overdue"),
        ("2025-05-31", "overdue"),
        ("2025-06-01", "in date"),
        ("2026-06-02", "overdue"),
    ],
)
def test_by_the_day(day: str, word: str) -> None:
    assert state_on(YEARLY, date.fromisoformat(day)).word == word


def test_nothing_and_no_due_date_are_unknown_and_say_why() -> None:
    day = date(2026, 1, 1)
    assert state_on([], day).words == "unknown: no calibration on record"
    assert state_on([check("2025-01-01")], day).words.endswith("no due date given")


def test_not_fit_holds_until_something_finds_it_fit() -> None:
    failed = [check("2025-01-01", "2027-01-01"), check("2025-09-01", None, "not_fit")]
    assert state_on(failed, date(2025, 8, 31)).word == "in date"
    assert state_on(failed, date(2025, 9, 1)).word == "not fit for use"
    mended = [*failed, check("2025-09-01", "2025-12-01", "adjusted")]
    assert state_on(mended, date(2025, 9, 1)).word == "in date"
    # the older one with the later due date does not come back to life
    assert state_on(mended, date(2026, 1, 1)).word == "overdue"


def test_a_check_does_not_shorten_a_calibration_that_still_holds() -> None:
    both = [check("2025-01-01", "2026-01-01"), check("2025-02-01", "2025-03-01")]
    assert state_on(both, date(2025, 6, 1)).word == "in date"
    none = [check("2025-01-01", "2025-03-01"), check("2025-04-01")]
    assert state_on(none, date(2025, 6, 1)).word == "unknown"
