"""Times and spans as both faces write and read them; ids of one instant."""

import re
from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from app.language import forms, typed, words
from app.language.clock import iso, uuid7
from tests.differential.harness import Phone, drawn
from tests.differential.test_numbers import FIELDS

FIRST = datetime(1990, 1, 2, tzinfo=UTC)
MOMENT = st.integers(0, 110 * 365 * 24 * 60).map(lambda minute: FIRST + timedelta(minutes=minute))
NAME = r"[a-z]{1,6}(_[a-z]{1,3})?( \d{1,2})?"
ID = r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}"
OFFSET = st.one_of(st.integers(-14 * 60, 14 * 60), st.sampled_from([0, 765, -210]))


@drawn
@given(seconds=st.one_of(st.integers(0, 10**9), st.floats(0.0, 2e5), st.integers(0, 200_000)))
def test_a_span_reads_the_same(phone: Phone, seconds: float) -> None:
    told = round(seconds, 3)
    if abs(told % 1 - 0.5) < 1e-9:
        told += 0.25  # a half second goes to the even second at the office
    assert phone.ask("clock_words.duration", told)["result"] == words.duration(told)


@drawn
@given(moment=MOMENT, offset_min=OFFSET)
def test_a_time_on_the_sites_clock_reads_the_same(
    phone: Phone, moment: datetime, offset_min: int
) -> None:
    said = phone.ask("format.siteTime", iso(moment), offset_min)["result"]
    assert said == words.site_clock(moment, offset_min)


@drawn
@given(moment=MOMENT, offset_min=OFFSET)
def test_a_box_holds_and_gives_back_the_same_instant(
    phone: Phone, moment: datetime, offset_min: int
) -> None:
    box = phone.ask("format.toLocalBox", iso(moment), offset_min)["result"]
    assert box == forms.local_text(moment, offset_min)
    again = phone.ask("format.fromLocalBox", box, offset_min)["result"]
    assert again == iso(forms.site_moment({"at": box}, "at", offset_min)) == iso(moment)


@drawn
@given(
    field=st.one_of(FIELDS, st.from_regex(r"[a-z]{1,6}(_[a-z]{1,3})?( \d{1,2})?", fullmatch=True))
)
def test_a_field_holds_as_much(phone: Phone, field: str) -> None:
    office = typed.limit_of(field)
    got = phone.ask("number_words.limitOf", field)["result"]
    assert got == (float("inf") if office is None else office), field


@drawn
@given(moment=MOMENT, fill=st.integers(0, 255))
def test_an_id_tells_its_instant_alike(phone: Phone, moment: datetime, fill: int) -> None:
    """RFC 9562, 5.7: 48 bits of milliseconds, version 7, variant 10, then each side's own."""
    theirs = uuid7(moment, lambda count: bytes([fill]) * count)
    mine = phone.ask("id_at", moment.timestamp() * 1000, fill)["result"]
    assert mine[:14] == theirs[:14]
    assert mine[19:] == theirs[19:]
    for one in (mine, theirs):
        assert re.fullmatch(
            r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}", one
        )
