"""Letters around the clock: morning and afternoon in any language, and names of time zones.

`10:15 PM`, `下午 10:15` and `10:15 p. m.` become `22:15` before anything else looks at the line.
Which of two unknown marks is the afternoon is told by the rows: on one date the morning comes
first. A name such as `10:15 CET` is taken off, and the zone is asked.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from app.services.loggers.reader.cells.numbers import MISSING_TEXTS

_MORNING = frozenset(
    ("am", "上午", "午前", "오전", "πμ", "fm", "vorm", "ap", "de", "öö", "dop", "дп")
)
_AFTERNOON = frozenset(
    ("pm", "下午", "午後", "오후", "μμ", "em", "nachm", "ip", "du", "ös", "odp", "пп")
)
_GAP = r"[ \t\u00a0\u202f]{0,2}"
_LETTERS = r"[^\W\d_]"
_SIGNS = {"semicolon": ";", "tab": "\t", "comma": ",", "bar": r"\|"}


@cache
def _after(delimiter: str) -> re.Pattern[str]:
    """Return the pattern of a clock with letters behind it, perhaps in the next column."""
    sign = _SIGNS.get(delimiter, r"(?!)")
    gap = r"[ \u00a0\u202f]{0,2}" if delimiter in _SIGNS else _GAP
    return re.compile(
        rf"(?<![\d:])(?P<h>\d{{1,2}})(?P<rest>:\d{{2}}(?::\d{{2}}(?:[.,]\d{{1,6}})?)?)"
        rf"(?P<gap>{gap}(?P<sign>{sign})?[ ]?)"
        # two short parts at most: "p. m."
        rf"(?P<mark>{_LETTERS}\.[ \u00a0\u202f]?{_LETTERS}\.?|{_LETTERS}{{1,6}}\.?)(?![\w:])"
    )


_BEFORE = re.compile(
    rf"(?P<mark>(?![A-Za-z]){_LETTERS}{{1,4}}){_GAP}"
    rf"(?P<h>\d{{1,2}})(?P<rest>:\d{{2}}(?::\d{{2}}(?:[.,]\d{{1,6}})?)?)(?![\d:])"
)
_ANY_CLOCK = re.compile(r"(?<![\d:])\d{1,2}:\d{2}")
_USUAL = re.compile(r"[AaPp]\.? ?[Mm]\.?", re.ASCII)
_OFFSETS = frozenset(("z", "utc", "gmt", "h"))
_ZONE = re.compile(r"[A-Z]{1,4}T|ME?S?Z", re.ASCII)
_LONGEST = 400


@dataclass(frozen=True)
class Marks:
    """What stands by the clocks: afternoon by mark, names of zones; `sure` when nothing is open."""

    pattern: re.Pattern[str] | None = None
    afternoon: tuple[tuple[str, bool], ...] = ()
    zones: tuple[str, ...] = ()
    sure: bool = True
    why: str = ""
    told: str = ""  # the answer that settled it

    def plain(self, lines: Sequence[str]) -> list[str]:
        """Return lines with the clock from 0 to 24 and without its letters."""
        if self.pattern is None:
            return list(lines)
        return [self.pattern.sub(self._clock, line, count=4) for line in lines]

    def _clock(self, found: re.Match[str]) -> str:
        mark = _bare(found["mark"])
        hour = int(found["h"])
        if mark in self.zones:
            return f"{found['h']}{found['rest']}{_kept_sign(found)}"
        half = dict(self.afternoon).get(mark)
        if half is None or not 1 <= hour <= 12:
            return found[0]
        return f"{hour % 12 + 12 * half:02d}{found['rest']}{_kept_sign(found)}"


def _kept_sign(found: re.Match[str]) -> str:
    """Return the delimiter between clock and letters: the columns stay where they are."""
    return found.groupdict().get("sign") or ""


def _bare(mark: str) -> str:
    return re.sub(r"[.\s\u00a0\u202f]", "", mark).lower()


def find_marks(lines: Sequence[str], delimiter: str, answer: object) -> Marks:
    """Return the marks that nearly all clocks of a sample have.

    Parameters
    ----------
    answer : the mark of the afternoon as a person gave it, None without an answer
    """
    for pattern in (_after(delimiter), _BEFORE):
        seen = [
            (line[: found.start()], found)
            for line in lines
            if (found := pattern.search(line[:_LONGEST])) and _bare(found["mark"]) not in _OFFSETS
        ]
        clocks = sum(bool(_ANY_CLOCK.search(line[:_LONGEST])) for line in lines)
        kinds = {_bare(found["mark"]) for _, found in seen}
        if seen and len(seen) * 10 >= clocks * 8 and len(kinds) <= 3:
            return _told(pattern, seen, kinds, delimiter, answer)
    return Marks()


def _told(
    pattern: re.Pattern[str],
    seen: Sequence[tuple[str, re.Match[str]]],
    kinds: set[str],
    delimiter: str,
    answer: object,
) -> Marks:
    if any(not 1 <= int(found["h"]) <= 12 for _, found in seen):
        names = {found["mark"] for _, found in seen}
        zones = all(_ZONE.fullmatch(name) for name in names)
        return Marks(pattern, zones=tuple(sorted(kinds))) if zones else Marks()
    if kinds & MISSING_TEXTS or len(kinds) > 2:
        return Marks()
    usual = all(_USUAL.fullmatch(f["mark"]) and f["gap"] in ("", " ") for _, f in seen)
    if kinds <= {"am", "pm"} and delimiter != "space" and usual:
        return Marks()  # read as it stands
    if any(_kept_sign(found) for _, found in seen) and not kinds <= _MORNING | _AFTERNOON:
        return Marks()  # a column of words
    first = _bare(seen[0][1]["mark"])
    if isinstance(answer, str) and answer.strip():
        late = _bare(answer)
        half = tuple((kind, kind == late) for kind in sorted(kinds))
        return Marks(pattern, half, why="as answered", told=answer.strip()[:20])
    if kinds <= _MORNING | _AFTERNOON and not (len(kinds) == 2 and kinds <= _MORNING):
        known = tuple((kind, kind in _AFTERNOON) for kind in sorted(kinds))
        if len({late for _, late in known}) == len(known):
            return Marks(pattern, known, why="known marks of morning and afternoon")
    if len(kinds) == 2:
        second = _later_of_a_day(seen)
        if second is not None:
            why = f"on one date {second} comes after the other mark"
            return Marks(pattern, tuple((kind, kind == second) for kind in sorted(kinds)), why=why)
    if len(kinds) == 1 and delimiter == "space" and len(seen[0][1]["gap"]) > 0:
        return Marks()  # a column of words as well as not
    other = next(iter(kinds - {first}), "")
    guess = tuple((kind, kind == other) for kind in sorted(kinds))
    return Marks(pattern, guess, sure=False, why="no date shows which of the marks comes first")


def _later_of_a_day(seen: Sequence[tuple[str, re.Match[str]]]) -> str | None:
    """Return the mark that follows the other one on the same date, None when that varies."""
    late: set[str] = set()
    for (day, a), (same, b) in pairwise(seen):
        one, other = _bare(a["mark"]), _bare(b["mark"])
        if day == same and one != other:
            late.add(other)
    return late.pop() if len(late) == 1 else None
