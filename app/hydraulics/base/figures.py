"""What a written number can mean: one meaning, two, or none. The grammar behind every reader.

Spaces (also thin and no-break ones, and apostrophes) group digits in threes. Where comma and
point both stand, or one of them twice, the grouping is plain. One comma or point before exactly
three digits, with one to three digits and no leading nought before it, can be either: such a text
has two meanings, and whoever reads it decides by the field's limits or asks. The phone's twin is
static/shared/numbers.js; tests/tables/typed_vectors.json proves the two equal.
"""

import math
import re
from collections.abc import Sequence

from app.errors import BadInput
from app.hydraulics.base.rounding import general

_GROUP = "[ '\u00a0\u2007\u2008\u2009\u200a\u2019\u202f]"
_MINUS = "\u2010\u2011\u2012\u2013\u2212\\-"  # the hyphen last and escaped: a class of characters
_SIGNED = re.compile(
    rf"([+{_MINUS}]?)[ \u00a0\u202f]?([0-9.,].*?)(?:[eE]([+{_MINUS}]?[0-9]{{1,3}}))?"
)
_PLAIN = re.compile(rf"([0-9]+|[1-9][0-9]{{0,2}}(?:{_GROUP}[0-9]{{3}})+)?(?:([.,])([0-9]*))?")
_MARKED = re.compile(
    r"[1-9][0-9]{0,2}(?:(?:,[0-9]{3})+\.[0-9]+|(?:\.[0-9]{3})+,[0-9]+|(?:,[0-9]{3}){2,}|(?:\.[0-9]{3}){2,})"
)
_LONGEST = 40
_BLANK = (  # what a browser's trim() takes off, so that a pasted figure reads alike everywhere
    "\t\n\v\f\r \u00a0\u1680\u2000\u2001\u2002\u2003\u2004\u2005\u2006\u2007\u2008\u2009\u200a"
    "\u2028\u2029\u202f\u205f\u3000\ufeff"
)


class TwoMeanings(BadInput):
    """A written number that can be two; `choices` are the spellings that have one meaning each."""

    def __init__(self, field: str, text: object, values: Sequence[float], unit: str = "") -> None:
        self.choices = [f"{spelled(value)} {unit}".rstrip() for value in values]
        words = " or ".join(f"{general(value, 15)} {unit}".rstrip() for value in values)
        super().__init__(
            field,
            text,
            f"it can be {words}",
            f"Write {' or '.join(self.choices)}.",
        )


def meanings(text: str) -> tuple[float, ...]:
    """Return the values that a text can mean: none, one, or two (as decimals, then grouped)."""
    found = _SIGNED.fullmatch(text.strip(_BLANK)) if len(text) <= _LONGEST else None
    if found is None:
        return ()
    sign = -1.0 if found[1] not in ("", "+") else 1.0
    power = re.sub(f"[{_MINUS}]", "-", found[3]) if found[3] else "0"
    body = found[2]
    grouped = None
    if plain := _PLAIN.fullmatch(body):
        whole, mark, part = plain[1] or "", plain[2], plain[3] or ""
        if not (whole or part):
            return ()
        if mark and len(part) == 3 and not found[3] and re.fullmatch("[1-9][0-9]{0,2}", whole):
            grouped = float(whole + part)
        whole = re.sub(_GROUP, "", whole)
    elif _MARKED.fullmatch(body):
        last = max(body.rfind(","), body.rfind("."))
        marks = {c for c in body if c in ",."}
        cut = last if len(marks) == 2 else len(body)
        whole, part = re.sub("[.,]", "", body[:cut]), body[cut + 1 :]
    else:
        return ()
    value = float(f"{whole or '0'}.{part or '0'}e{power}")
    if not math.isfinite(value):
        return ()
    values = (value,) if grouped is None else (value, grouped)
    return tuple(sign * each + 0.0 for each in values)


def settle(
    field: str,
    text: str,
    *,
    low: float | None = None,
    high: float | None = None,
    to_mm: bool = False,
    unit: str = "",
) -> float | None:
    """Return what a text means, None when it is no number.

    Parameters
    ----------
    low, high : limits of the field
        Of two meanings the only one within them is taken; they refuse nothing here.
    to_mm : the field is in metres, read to the millimetre: of two meanings the smaller is taken
    unit : unit written behind the figure, for the words of a question

    Raises
    ------
    TwoMeanings
        When two meanings are possible.
    """
    values = meanings(text)
    if len(values) < 2:
        return values[0] if values else None
    lowest = -math.inf if low is None else low
    highest = math.inf if high is None else high
    possible = [value for value in values if lowest <= value <= highest]
    if len(possible) == 2 and to_mm:
        possible = possible[:1]
    if len(possible) == 2:
        raise TwoMeanings(field, f"{text} {unit}".rstrip(), values, unit)
    return (possible or values)[0]


def spelled(value: float, digits: int = 12) -> str:
    """Return a number as text that has this one meaning: 1.251 is written 1.2510."""
    return _plain(f"{value + 0.0:.{digits}g}")


def exact(value: float) -> str:
    """Return a number as text that reads back as the very value and has this one meaning."""
    return _plain(repr(value))


def _plain(text: str) -> str:
    return text if len(meanings(text)) < 2 else text + "0"


def decimal_sign(texts: Sequence[str]) -> str:
    """Return the decimal sign that the plain ones of a column's cells use, "" when they do not say.

    A cell grouped by one sign says that the other is the decimal sign; whole numbers of four
    digits and more say that nothing is grouped. Cells that contradict each other say nothing.
    """
    said = set()
    for text in texts:
        marks = [c for c in text if c in ",."]
        values = meanings(text)
        if len(values) != 1 or (not marks and len(re.sub("[^0-9]", "", text)) < 4):
            continue
        if not marks:
            if re.search(_GROUP, text.strip()) is None:
                said.add("")
        elif len(marks) > 1 and len(set(marks)) == 1:
            said.add("." if marks[0] == "," else ",")
        else:
            said.add(marks[-1])
    signs = said - {""}
    if len(signs) > 1:
        return ""
    return signs.pop() if signs else "any" if said else ""


def in_column(text: str, sign: str) -> tuple[float, ...]:
    """Return the meanings of a cell where the decimal sign of its column is known ("" unknown)."""
    values = meanings(text)
    if len(values) < 2 or not sign:
        return values
    return values[:1] if sign in ("any", *(c for c in text if c in ",.")) else values[1:]
