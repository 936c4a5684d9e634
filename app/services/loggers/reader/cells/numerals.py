"""How numbers are written in a file: decimal sign, thousands, and marks of a missing reading."""

import re
from collections.abc import Mapping
from typing import Any

import numpy as np

from app.errors import BadInput
from app.services.loggers.reader.cells.numbers import (
    HUGE,
    LIKELY_MARKERS,
    MISSING_TEXTS,
    SURE_MARKERS,
    Notation,
    Numerals,
    decide_numerals,
    is_far,
    looks_numeric,
    read_numbers,
)
from app.services.loggers.reader.guesses import Guess, choice
from app.services.loggers.reader.table import Table


def numerals_of(
    table: Table, candidates: list[int], answers: Mapping[str, Any], guesses: list[Guess]
) -> Numerals:
    cells = [cell for index in candidates for cell in table.cells(index)]
    found = decide_numerals(cells, DELIMITER_SIGN.get(table.delimiter, ""))
    decimal = choice(answers, "decimal", ("point", "comma"))
    thousands = choice(answers, "thousands", ("none", "comma", "point", "space"))
    if decimal is not None:
        left = found.thousands if decimal == found.decimal else "none"
        if thousands is None and decimal == "point" and found.decimal == "comma":
            left = "comma" if found.open_choice else "none"
        found = Notation(decimal, left, "as answered")
    if thousands is not None:
        found = Notation(found.decimal, thousands, "as answered")
    if found.thousands == found.decimal:
        raise BadInput(
            "row 1, column 1",
            found.decimal,
            "one sign cannot part thousands and decimals",
            "Choose another thousands sign, or none.",
        )
    other = "comma" if found.decimal == "point" else "point"
    tiny = decimal is None and thousands is None and _grouped_millimetres(table, candidates, found)
    if tiny:
        why = f"{tiny} mm is little water: the {found.decimal} may also part thousands"
        found = Notation(found.decimal, found.thousands, why, open_choice=True)
    guesses.append(Guess("decimal", found.decimal, found.why, (other,), ask=found.open_choice))
    if found.thousands != "none":
        guesses.append(Guess("thousands", found.thousands, found.why, ("none",)))
    texts, markers, why = set(MISSING_TEXTS), list(SURE_MARKERS), "texts and numbers loggers use"
    given = answers.get("missing")
    base = Numerals(found.decimal, found.thousands, frozenset(texts), tuple(markers))
    if given is not None:
        if not isinstance(given, list) or not all(isinstance(item, str) for item in given):
            raise BadInput(
                "row 1, column 1", given, "missing is a list of texts", 'Such as ["-1"].'
            )
        markers, why = [], "as answered"
        for item in given:
            value, bad = read_numbers([item], Numerals(markers=()))
            if bad[0] or np.isnan(value[0]):
                texts.add(item.strip().lower())
            else:
                markers.append(float(value[0]))
    else:
        extra = _likely_markers(table, candidates, base)
        markers += extra
        if extra:
            why = "far from every other reading in the column"
    seen = [f"{marker:g}" for marker in markers if marker not in SURE_MARKERS or given is not None]
    guesses.append(
        Guess("missing", ", ".join(seen) or "the usual marks", why, ("keep them as readings",))
    )
    return Numerals(found.decimal, found.thousands, frozenset(texts), tuple(markers))


def _grouped_millimetres(table: Table, candidates: list[int], found: Notation) -> str:
    """Return a cell of a column in mm whose decimal sign only ever groups threes, else nothing."""
    for index in candidates:
        cells = [cell for cell in table.cells(index) if looks_numeric(cell)]
        sign = DECIMAL_SIGN[found.decimal]
        shape = rf"[1-9][0-9]{{0,2}}\{sign}[0-9]{{3}}"
        plain = table.units[index] == "mm" and found.thousands == "none" and bool(cells)
        if plain and all(re.fullmatch(shape, cell) for cell in cells):
            return cells[0]
    return ""


DECIMAL_SIGN = {"point": ".", "comma": ","}

DELIMITER_SIGN = {"comma": ","}


def _likely_markers(table: Table, candidates: list[int], numerals: Numerals) -> list[float]:
    """Return the usual marker numbers that stand far from the other readings of their column."""
    found: set[float] = set()
    for index in candidates:
        values, _ = read_numbers(table.cells(index), numerals)
        values = values[np.isfinite(values)]
        rest = values[~np.isin(values, LIKELY_MARKERS)]
        if rest.size == 0:
            continue
        low, high = float(rest.min()), float(rest.max())
        found |= _bare_negatives(table.cells(index), numerals)
        found |= {
            float(v)
            for v in values
            if abs(v) >= HUGE and abs(v) > 100.0 * float(np.median(np.abs(rest)))
        }
        found |= {m for m in LIKELY_MARKERS if np.any(values == m) and is_far(m, low, high)}
    return sorted(found)


_BARE = re.compile(r"-[1-9][0-9]*")


def _bare_negatives(cells: list[str], numerals: Numerals) -> set[float]:
    """Return negative whole numbers among readings that are positive and all have decimals."""
    sign = DECIMAL_SIGN[numerals.decimal]
    told = [cell for cell in cells if looks_numeric(cell)]
    bare = {cell for cell in told if _BARE.fullmatch(cell)}
    others = [cell for cell in told if cell not in bare]
    if not bare or len(others) * 10 < len(told) * 8 or len(bare) > 2:
        return set()
    sure = {f"{marker:g}" for marker in numerals.markers}
    others = [cell for cell in others if cell not in sure]
    plain = all(sign in cell and not cell.startswith("-") for cell in others)
    return {float(cell) for cell in bare} if plain and others else set()
