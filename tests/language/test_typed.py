"""Typed numbers: one meaning, two and a question, or none; the same on the phone by vectors."""

import contextlib
import math
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import BadInput
from app.hydraulics.base import figures
from app.language import typed
from tests.vectors.typed import BY_HAND, COLUMNS

GROUPS = [" ", "\u00a0", "\u2009", "\u202f", "'"]
MINUS = ["-", "\u2212"]


@pytest.mark.parametrize(("text", "values"), BY_HAND.items(), ids=repr)
def test_spellings(text: str, values: list[float]) -> None:
    assert list(figures.meanings(text)) == values


@pytest.mark.parametrize(("texts", "sign"), COLUMNS, ids=str)
def test_columns(texts: list[str], sign: str) -> None:
    assert figures.decimal_sign(texts) == sign


@st.composite
def written(draw: st.DrawFn) -> tuple[str, Decimal, bool]:
    """A number, one of its spellings, and whether that spelling can be another number."""
    whole = draw(st.integers(0, 10**9))
    part = draw(st.text("0123456789", max_size=6))
    decimal = draw(st.sampled_from(",."))
    group = draw(st.sampled_from(["", *GROUPS, "." if decimal == "," else ","]))
    text = f"{whole:,}".replace(",", group) if group else str(whole)
    marked = group in (",", ".") and whole >= 1000
    if part:
        text += decimal + part
    doubtful = (len(part) == 3 and 1 <= whole <= 999) or (
        marked and not part and 1000 <= whole < 10**6
    )
    sign = draw(st.sampled_from(["", "+", *MINUS]))
    value = Decimal(f"{whole}.{part or 0}") * (-1 if sign in MINUS else 1)
    return sign + text, value, doubtful


@given(written())
def test_a_spelling_is_read_as_it_was_written(case: tuple[str, Decimal, bool]) -> None:
    text, value, doubtful = case
    found = figures.meanings(text)
    assert float(value) in found
    assert len(found) == (2 if doubtful else 1)


@given(st.floats(-1e14, 1e14, allow_nan=False))
def test_what_a_form_fills_in_comes_back_unasked(value: float) -> None:
    text = typed.shown(value)
    assert typed.read("x", text) == pytest.approx(value, rel=1e-11)
    assert typed.shown(typed.read("x", text)) == text


@given(st.floats(-1e12, 1e12, allow_nan=False))
def test_what_the_app_says_can_be_typed_again(value: float) -> None:
    rounded = round(value)
    assert typed.read("x", typed.said(rounded)) == rounded


@given(st.text(max_size=45))
def test_no_text_is_read_without_a_finite_number(text: str) -> None:
    with contextlib.suppress(BadInput):
        assert math.isfinite(typed.read("x", text, unit="m"))


def test_limits_decide_and_else_it_is_asked() -> None:
    assert typed.read("head", "1.251", unit="m", low=-50, high=50) == 1.251
    assert typed.read("crest", "98,412", unit="m", low=-9000, high=9000) == 98.412
    assert typed.read("crest", "1.251", unit="m", low=-9000, high=9000) == 1.251
    assert typed.read("share", "1.250", unit="%", high=2000) == 1.25
    assert typed.read("straight", "0,500", unit="m", thousands=True) == 0.5
    assert typed.read("amount", "6,000", low=100.0, high=1e12) == 6000.0
    with pytest.raises(typed.TwoMeanings) as asked:
        typed.read("amount", "6,000", low=0.0, high=1e12)
    assert asked.value.choices == ["6", "6000"]
    assert "6 or 6000" in asked.value.rule
    with pytest.raises(typed.TwoMeanings) as asked:
        typed.read("amount", "34.507", low=0.0, high=1e12)
    assert asked.value.choices == ["34.5070", "34507"]
    with pytest.raises(typed.TwoMeanings):
        typed.read("straight", "1,500", unit="m", high=1e4, thousands=True)
    with pytest.raises(typed.TwoMeanings):
        typed.read("width", "1,251 mm", unit="m", low=0.0, high=50.0)


def test_a_file_is_decided_by_its_column_then_by_its_other_columns() -> None:
    rows = [{"q": "1.251", "h": "0.2"}, {"q": "980", "h": "0.3"}]
    typed.settled(rows, {"q": "", "h": "m"}, "")
    assert rows[0] == {"q": "1.2510", "h": "0.2"}
    rows = [{"q": "1.251", "h": "0,2"}, {"q": "980", "h": "0,3"}]
    typed.settled(rows, {"q": "", "h": "m"}, "")
    assert rows[0] == {"q": "1251.0", "h": "0.2"}
    with pytest.raises(typed.TwoMeanings, match="row 2 q"):
        typed.settled([{"q": "7"}, {"q": "1.251"}], {"q": ""}, "")
    assert typed.column("h", ["1.251", "1.302"], unit="m") == [1.251, 1.302]


def test_a_settled_cell_reads_back_without_its_column() -> None:
    rows = [{"ec": "120.188"}, {"ec": "1251"}, {"ec": "0.1875"}]
    typed.settled(rows, {"ec": ""}, ".")
    assert [typed.read("ec", row["ec"]) for row in rows] == [120.188, 1251.0, 0.1875]
    assert float(figures.exact(0.1 + 0.2)) == 0.1 + 0.2
