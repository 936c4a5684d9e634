"""Numbers are never shown without unit and uncertainty, and rounded to it."""

from datetime import UTC, datetime

import pytest

from app.language import words


@pytest.mark.parametrize(
    ("value", "pct", "text"),
    [
        (0.0385, 4.3, "38.5 L/s ± 1.7 (4.3 %)"),
        (0.110634, 4.3, "110.6 L/s ± 4.8 (4.3 %)"),
        (1.91342, 12.0, "1.91 m³/s ± 0.23 (12 %)"),
        (0.0, 5.0, "0 L/s"),
        (None, None, "not determined"),
        (0.0385, None, "38.5 L/s, uncertainty unknown"),
    ],
)
def test_discharge_is_rounded_to_its_uncertainty(
    value: float | None, pct: float | None, text: str
) -> None:
    # Two figures of the uncertainty, the value to the same place (GUM 7.2.6; common practice).
    assert words.discharge(value, pct) == text


def test_site_time_shows_its_offset() -> None:
    moment = datetime(2026, 11, 24, 21, 15, tzinfo=UTC)
    assert words.site_time(moment, 720) == "2026-11-25 09:15 UTC+12:00"
    assert words.site_time(moment, -210) == "2026-11-24 17:45 UTC-03:30"


def test_unknown_is_said() -> None:
    assert words.millimetres(None) == "unknown"
    assert words.ratio(None) == "not seen"
    assert words.millimetres(0.2505) == "250.5 mm"


def test_clocks_and_levels_in_words() -> None:
    assert words.clock_error(0.2) == "right"
    assert words.clock_error(95.0) == "1 min 35 s fast"
    assert words.clock_error(-3660.0) == "1 h 1 min slow"
    assert words.clock_error(-1795669441.0).startswith("wrong: 56 years")
    assert words.booked(1.3425) == "1.3425"
    assert words.booked(1.3) == "1.300"
    assert words.booked(98.41) == "98.410"
