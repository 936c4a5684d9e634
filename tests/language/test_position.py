"""Positions as people write them; ISO 6709 names the axes and their signs.

The worked figures are plain sexagesimal arithmetic: 17 min 11.4 s are 1031.4 / 3600 of a degree.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.errors import BadInput
from app.language import position
from app.language.typed import TwoMeanings

SOUTH = -(41 + 17 / 60 + 11.4 / 3600)
EAST = 174 + 46 / 60 + 34.2 / 3600


@pytest.mark.parametrize(
    "text",
    [
        "41°17'11.4\"S", "41° 17′ 11.4″ S", "S 41 17 11.4", "s41:17:11.4", "41 17 11,4 S",
        "-41 17 11.4", "−41°17'11,4\"", "41º17’11.4’’ south", "South 41 17.19", "41°17.19' S",
        "41 17,19 S", "41deg 17' 11.4\" S", "-41.2865", "41.2865 S", "S41,2865", "41.2865°S",
        " 41 : 17 : 11.4 S ", "41 17 11.40 S", "-41° 17' 11.4\"", "041 17 11.4 S",
    ],
)  # fmt: skip
def test_ways_to_write_one_latitude(text: str) -> None:
    assert position.read("latitude", text) == pytest.approx(SOUTH, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("174 46 34.2 E", EAST), ("E174°46'34,2\"", EAST), ("174.7761667", 174.7761667),
        ("+174 46 34.2", EAST), ("12 W", -12.0), ("0 30 W", -0.5), ("-0 30", -0.5),
        ("-0°30'", -0.5), ("180 E", 180.0), ("180 00 00 W", -180.0), ("0", 0.0), ("0 W", 0.0),
        ("7°E", 7.0), ("10 00 00.001 e", 10 + 0.001 / 3600),
    ],
)  # fmt: skip
def test_longitudes(text: str, value: float) -> None:
    assert position.read("longitude", text) == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("field", "text", "rule"),
    [
        ("latitude", "41 17 11.4 E", "E is no side of a latitude"),
        ("longitude", "174 46 S", "S is no side of a longitude"),
        ("latitude", "-41 17 S", "both a minus and a letter"),
        ("latitude", "41 60 00 S", "minutes are less than 60"),
        ("latitude", "41 17 60 S", "seconds are less than 60"),
        ("latitude", "41.5 17 11 S", "only the last figure may have decimals"),
        ("latitude", "41 17.5 11 S", "only the last figure may have decimals"),
        ("latitude", "90 00 01 N", "between -90 and 90"),
        ("latitude", "91", "between -90 and 90"),
        ("longitude", "180 0 0.1 W", "between -180 and 180"),
        ("latitude", "41 17 11 S 174 46 34 E", "two sides"),
        ("latitude", "41°17'S, 174°46'E", "two sides"),
        ("latitude", "41 S 17", "inside the figures"),
        ("latitude", "41° 11\" S", "seconds and no minutes"),
        ("latitude", "1 2 3 4 S", ""),
        ("latitude", "forty-one", ""),
        ("latitude", "", ""),
        ("latitude", "S", ""),
        ("latitude", "--41", ""),
        ("latitude", "41 -17 11", ""),
        ("latitude", "41 O", ""),
        ("latitude", "1e400", ""),
        ("latitude", "nan", ""),
    ],
)  # fmt: skip
def test_refusals_name_rule_and_remedy(field: str, text: str, rule: str) -> None:
    with pytest.raises(BadInput) as refused:
        position.read(field, text)
    assert refused.value.field == field
    assert rule in refused.value.rule
    assert refused.value.remedy


def test_one_comma_before_three_digits_is_settled_by_the_limit() -> None:
    assert position.read("latitude", "41,286 S") == pytest.approx(-41.286)
    try:
        assert position.read("longitude", "0,286") == pytest.approx(0.286)
    except TwoMeanings:
        pytest.fail("nought before the mark is no group of thousands")


@given(
    st.sampled_from(["latitude", "longitude"]),
    st.floats(-1.0, 1.0, allow_nan=False),
    st.integers(0, 4),
)
def test_what_is_shown_is_read_back(field: str, share: float, places: int) -> None:
    degrees = share * position.LIMIT[field]
    text = position.shown(field, degrees, places)
    assert position.read(field, text) == pytest.approx(degrees, abs=0.5 / 3600 / 10**places + 1e-9)
    for other in (
        text.replace(".", ","),
        text.replace("°", " ").replace("'", " ").replace('"', " "),
        text[-1] + " " + text[:-1],
        text.lower(),
    ):
        assert position.read(field, other) == position.read(field, text)


@given(st.sampled_from(["latitude", "longitude"]), st.integers(0, 10**9), st.booleans())
def test_decimal_degrees_round_trip(field: str, part: int, minus: bool) -> None:
    value = part / 10**9 * position.LIMIT[field]
    value = round(-value if minus else value, 9)
    assert position.read(field, f"{value:.9f}") == pytest.approx(value, abs=1e-9)
    letter = position.SIDES[field][value < 0]
    assert position.read(field, f"{abs(value):.9f} {letter}") == pytest.approx(value, abs=1e-9)


@given(st.sampled_from(["latitude", "longitude"]), st.text(max_size=30))
def test_any_text_is_a_position_or_refused_in_words(field: str, text: str) -> None:
    try:
        value = position.read(field, text)
    except BadInput as refused:
        said = refused.as_dict()
    else:
        said = {"remedy": "none needed"}
        assert abs(value) <= position.LIMIT[field]
    assert said["remedy"]
