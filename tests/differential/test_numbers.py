"""Numbers as people type and read them: the phone's readers and writers against the server's."""

import math
import re

from hypothesis import given
from hypothesis import strategies as st

from app.hydraulics.base import figures, rounding, units
from app.language import typed, words
from tests.differential.harness import Phone, answered, drawn, same

DIGITS = st.text("0123456789", min_size=0, max_size=5)
MARK = st.sampled_from([",", ".", " ", "'", "\u202f", "\u00a0", "", ",,", "e", "E-", "-", "\u2212"])
SPELLINGS = st.one_of(
    st.text("0123456789,. '\u202f\u2212-+eE", max_size=12),
    st.lists(st.tuples(DIGITS, MARK), max_size=5).map(lambda ps: "".join(d + m for d, m in ps)),
    st.floats(allow_nan=False).map(repr),
    st.floats(-2000, 2000, allow_nan=False).map(lambda v: f"{v:.3f}".replace(".", ",")),
    st.text("5,\ufeff\x1f\u3000\x85\t 1", max_size=6),
    st.sampled_from(
        ["", " ", "nan", "inf", "1e999", "0x10", "1_000", "٣", "1" * 41, "m", "−", "+"]
    ),
)
LIMIT = st.one_of(st.none(), st.floats(-2000, 2000))
FIELDS = st.sampled_from(
    [
        "mass_g",
        "depth_m 3",
        "vertical 2 v06",
        "meter equation 1",
        "times_s 2",
        "velocity_ms",
        "dose_uncertainty_pct",
        "vertical 3 depth_m",
        "volume_l 1",
        "component meter",
    ]
)


@drawn
@given(text=SPELLINGS)
def test_a_text_has_the_same_meanings(phone: Phone, text: str) -> None:
    same(phone.ask("numbers.meanings", text)["result"], figures.meanings(text), text, 0.0)


@drawn
@given(text=SPELLINGS, low=LIMIT, high=LIMIT)
def test_limits_decide_the_same(
    phone: Phone, text: str, low: float | None, high: float | None
) -> None:
    limits = {name: value for name, value in (("low", low), ("high", high)) if value is not None}
    found = phone.ask("numbers.possible", text, limits)["result"]
    try:
        settled = figures.settle("x", text, low=low, high=high)
    except figures.TwoMeanings:
        assert len(found) == 2, text
        assert phone.ask("numbers.parseNumber", text, limits)["result"] is None, text
        return
    same(found, [] if settled is None else [settled], text, 0.0)
    one = phone.ask("numbers.parseNumber", text, limits)["result"]
    beyond = (
        settled is None or abs(settled) > units.LARGEST_FIGURE
    )  # the office refuses such a figure by name
    same(one, None if beyond else settled, text, 0.0)


@drawn
@given(field=FIELDS, text=st.one_of(SPELLINGS, st.floats(-1e16, 1e16), st.integers(-5, 5)))
def test_a_figure_of_an_entry_is_read_or_refused_alike(
    phone: Phone, field: str, text: str | float
) -> None:
    office = answered(lambda: typed.figure(field, text))
    same(phone.ask("number_words.typedFigure", field, text), office, f"{field} {text!r}", 0.0)


@drawn
@given(texts=st.lists(SPELLINGS, max_size=6), sign=st.sampled_from(["", ".", ",", "any"]))
def test_a_column_is_decided_as_a_whole_alike(phone: Phone, texts: list[str], sign: str) -> None:
    said = figures.decimal_sign(texts)
    assert phone.ask("number_words.decimalSign", texts)["result"] == said, texts
    cells = [figures.in_column(text, said or sign) for text in texts]
    wanted = [each[0] if len(each) == 1 else None for each in cells]
    same(phone.ask("number_words.columnOf", texts, sign)["result"], wanted, str(texts), 0.0)


@drawn
@given(
    value=st.one_of(
        st.floats(-1e15, 1e15), st.floats(-5, 5), st.floats(-2e3, 2e3).map(lambda v: round(v, 3))
    )
)
def test_what_one_side_writes_the_other_reads(phone: Phone, value: float) -> None:
    wanted = float(f"{value:.12g}") + 0.0
    theirs = phone.ask("numbers.spelled", value)["result"]
    for text in (theirs, figures.spelled(value)):
        same(phone.ask("numbers.meanings", text)["result"], [wanted], text, 1e-15)
        same(list(figures.meanings(text)), [wanted], text, 1e-15)


@drawn
@given(tenths=st.integers(-100_000, 100_000))
def test_millimetres_are_the_same_metres(phone: Phone, tenths: int) -> None:
    text = f"{tenths / 10:.1f}"
    found = phone.ask("numbers.toMetres", tenths / 10, "mm")["result"]
    same(found, units.length_m("staff", f"{text} mm"), text, 0.0)


@drawn
@given(
    flow=st.one_of(st.floats(1e-7, 1e3), st.integers(1, 20_000).map(lambda n: n / 8000)),
    pct=st.one_of(st.none(), st.floats(0.01, 500.0), st.integers(1, 400).map(lambda n: n / 8)),
)
def test_a_discharge_reads_the_same(phone: Phone, flow: float, pct: float | None) -> None:
    wanted = words.discharge(flow, pct)
    assert phone.ask("format.dischargeLine", flow, pct)["result"] == wanted, (flow, pct)


@drawn
@given(seconds=st.one_of(st.integers(-(10**9), 10**9), st.integers(-90_000, 90_000)))
def test_a_clock_is_as_far_off(phone: Phone, seconds: int) -> None:
    said = phone.ask("clock_words.clockWords", seconds)["result"]
    assert said.removesuffix(". Set it") == words.clock_error(seconds)  # the phone adds what to do


@drawn
@given(
    named=st.floats(0.0, 3000.0),
    value=st.one_of(st.floats(0.001, 1e6), st.sampled_from([1.0, 1000.0])),
    factor=st.sampled_from([1.0, 0.1, 0.001, 10.0, 1000.0, 1 / 25.4, 1 / 304.8]),
    near=st.booleans(),
)
def test_a_dimension_is_likely_the_same_slip(
    phone: Phone, named: float, value: float, factor: float, near: bool
) -> None:
    typed_mm = named * factor if near and named > 0 else value
    same(phone.ask("dimension_slip.slip", typed_mm, named)["result"], typed.slip(typed_mm, named))


@drawn
@given(minutes=st.integers(-14 * 60, 14 * 60))
def test_an_offset_of_the_clock_reads_the_same(phone: Phone, minutes: int) -> None:
    said = phone.ask("format.offsetWords", minutes)["result"]
    assert re.sub("\u2212", "-", said) == words.offset_words(minutes)


@drawn
@given(dof=st.integers(1, 400))
def test_students_t_spans_the_same(phone: Phone, dof: int) -> None:
    from app.hydraulics.base.student import two_sided

    wanted = two_sided(dof)
    assert math.isfinite(wanted)
    same(phone.ask("two_sided", dof)["result"], wanted, str(dof))


@drawn
@given(tenths=st.one_of(st.floats(-2.0, 2.0), st.integers(-9000, 9000).map(lambda n: n / 80_000)))
def test_millimetres_read_the_same(phone: Phone, tenths: float) -> None:
    said = phone.ask("format.millimetres", tenths)["result"]
    assert said.replace(".0 mm", " mm") == words.millimetres(tenths)  # the office drops the nought


@drawn
@given(value=st.one_of(st.floats(-1e7, 1e7), st.integers(-10_000, 10_000).map(lambda n: n / 16)))
def test_figures_in_words_have_the_same_digits(phone: Phone, value: float) -> None:
    told = value + 0.0  # a nought of the phone's sums has no sign
    assert phone.ask("sums_statistics.general", told)["result"] == rounding.general(told)
    assert phone.ask("sums_statistics.signed", told)["result"] == rounding.signed(told, 1)
