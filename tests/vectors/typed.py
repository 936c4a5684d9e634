"""Cases of typed_vectors.json: spellings and what they mean."""

from typing import Any

from app.hydraulics.base import figures
from tests.vectors.harness import case

# spelling -> meanings by hand; the rule is common practice of number formats (SI brochure 5.4.4:
# digits in threes by thin spaces, comma or point as the decimal marker; from memory)
BY_HAND: dict[str, list[float]] = {
    "6,000": [6.0, 6000.0], "6.000": [6.0, 6000.0], "34,507": [34.507, 34507.0],
    "1.251": [1.251, 1251.0], "-1,251": [-1.251, -1251.0], "\u22121.251": [-1.251, -1251.0],
    "0,251": [0.251], "0.251": [0.251], "00.251": [0.251], ",251": [0.251], ".5": [0.5],
    "5.": [5.0], "1,5": [1.5], "1.25": [1.25], "1.2510": [1.251], "1,2515": [1.2515],
    "34 507": [34507.0], "2\u202f500\u202f000": [2500000.0], "9\u00a0000": [9000.0],
    "9\u2009000,5": [9000.5], "6 000,5": [6000.5], "6 000.500": [6000.5], "6'000": [6000.0],
    "6\u2019000.25": [6000.25], "1,234,567": [1234567.0], "1.234.567": [1234567.0],
    "1.234.567,8": [1234567.8], "1,234.5": [1234.5], "1.234,567": [1234.567],
    "1,234.567": [1234.567], "1234,567": [1234.567], "1234.567": [1234.567], "9000": [9000.0],
    "+3": [3.0], "-5": [-5.0], "\u20135": [-5.0], "- 5": [-5.0], "  7 ": [7.0], "-0": [0.0],
    "1e3": [1000.0], "1.251e0": [1.251], "2,5E-3": [0.0025], "1.5e+2": [150.0],
    "1e\u22123": [0.001],
    "": [], " ": [], ".": [], ",": [], "-": [], "abc": [], "5 m": [], "1_000": [], "0x10": [],
    "nan": [], "inf": [], "1e999": [], "0.25.1": [], "12,34.5": [], "1,23,456": [], "0,123,456": [],
    "0 251": [], "12 34": [], "1 2345": [], "1 234,567.8": [], "1.234.56": [], "--5": [],
    "\uff16": [], "\u0666": [], "1.\u0662\u0665": [], "1,000,": [], "1" * 41: [],
}  # fmt: skip
COLUMNS: list[tuple[list[str], str]] = [
    (["1.251", "0.98"], "."), (["1.251", "1.302"], ""), (["1,251", "0,98", "1"], ","),
    (["1,251", "2,500.5"], "."), (["1.234.567", "1,251"], ","), (["1.251", "1302"], "any"),
    (["0.5", "0,5", "1.251"], ""), (["1.251", "980"], ""), (["1 500", "1.251"], ""),
    (["x", "", "1.5"], "."),
]  # fmt: skip

SPELLED = (1.251, 6.0, 34.507, -1.5, 0.251, 1251.0, 99.2235, 123.456, 2.5e9)


HAND = ("by hand; SI brochure 5.4.4, comma or point as the decimal marker", "from memory")


def vectors() -> list[dict[str, Any]]:
    found = [
        case(f"means {text!r}", "meanings", {"text": text}, {"result": values}, source=HAND)
        for text, values in BY_HAND.items()
    ]
    for texts, sign in COLUMNS:
        cells = [figures.in_column(text, sign) for text in texts]
        values = [each[0] if len(each) == 1 else None for each in cells]
        said: dict[str, Any] = {"result": {"sign": sign, "values": values}}
        found.append(case(f"column {texts}", "column", {"texts": texts}, said, source=HAND))
    for value in SPELLED:
        said = {"result": figures.spelled(value)}
        found.append(case(f"spelled {value}", "spelled", {"value": value}, said))
    return found
