"""The reader's choices as boxes of a form.

A box left as it is keeps what was understood; only what a person changed becomes an answer. A
question keeps its box once it is answered, with the answer in it, so that it can be changed and
is sent again with the import.

A key that is not known here is asked by its own words: a choice where the reader names
alternatives, a figure where they are metres, else a box for text.
"""

import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app.errors import BadInput
from app.language import forms
from app.language.forms import Form
from app.services.loggers.asking.answers import COLUMN, COLUMN_CHOICES, HEIGHTS, PLAIN, VENTED
from app.services.loggers.asking.questions import Answered
from app.services.loggers.reader.cells.dates import DAYLIGHT, DAYLIGHT_CHANGES, STANDARD, UTC
from app.services.loggers.reader.columns import SCALED, Meaning
from app.services.loggers.reader.guesses import Guess
from app.services.loggers.reader.left_out import Problem
from app.services.loggers.reader.places import MOST_COLUMNS
from app.services.loggers.reader.sources import NO_BAROMETER

FIXED = ("encoding", "time", "air temperature")
METRES = ("metres",)
SCALE_OF = "scale of "
KEEP_MARKS = "keep them as readings"
_OF_COLUMN = re.compile(r"(unit|column)_\d{1,2}")
_LABELS = {
    "encoding": "Letters",
    "delimiter": "Columns are parted by",
    "decimal": "Decimal sign",
    "thousands": "Thousands sign",
    "missing": "Marks of a missing reading",
    "date_order": "Order of the date",
    "time": "Time is written as",
    "time_zone": "Clock of the stamps",
    "columns": "Which column is the head",
    "head_column": "Which column is the head",
    "time_column": "Which column is the time of the reading",
    "afternoon_mark": "Mark of the afternoon by the clock",
    "datum_above_crest_m": "Height of the datum over the crest, m",
    "bracket_above_crest_m": "Height of the sensor over the crest, m",
    "sensor_above_crest_m": "Height of the sensor over the crest, m",
    "air temperature": "Air temperature",
}
_WORDS = {
    STANDARD: "the site's standard time",
    UTC: "UTC",
    DAYLIGHT: "daylight time throughout",
    DAYLIGHT_CHANGES: "daylight time with its changes",
}


@dataclass(frozen=True, kw_only=True)
class AnswerBox:
    """One choice of the reader as a box of the form.

    kind: "fixed" (nothing to choose), "choice" (options of value and words), "figure" (metres)
    or "text". `value` is what the form says; `before` what was answered for this logger before,
    which holds while the box is left empty; `echo` the figure as it was read.
    """

    name: str
    label: str
    kind: str
    chosen: str
    why: str
    ask: bool
    value: str
    options: list[tuple[str, str]]
    answered: bool = False
    before: str = ""
    echo: str = ""
    generic: bool = False


def answer_boxes(
    guesses: Sequence[Guess],
    form: Form,
    answered: Sequence[Answered] = (),
    remembered: Mapping[str, Any] | None = None,
) -> list[AnswerBox]:
    """Return the boxes of a preview, with what the form already says.

    Open questions come first, then answered ones, then what was understood without asking.
    """
    kept = remembered or {}
    open_keys = {guess.key for guess in guesses if guess.ask}
    boxes: dict[str, AnswerBox] = {}
    for one in answered:
        if one.guess.key not in open_keys:
            before = _said(one.value) if one.before else ""
            box = _box(one.guess, guesses, form, answered=True, before=before)
            boxes[box.name] = box
    for guess in guesses:
        told = guess.key in PLAIN and bool(form.get(guess.key, "").strip())
        before = _said(kept[guess.key]) if guess.key in PLAIN and guess.key in kept else ""
        box = _box(guess, guesses, form, answered=told, before=before if not told else "")
        held = boxes.get(box.name)
        if held is None or (box.ask and not held.ask and not held.answered):
            boxes[box.name] = box
    return sorted(boxes.values(), key=lambda box: (not box.ask, not box.answered))


def unread_boxes(form: Form, shown: Collection[str]) -> list[AnswerBox]:
    """Return a box for each answer that has none, as when the file cannot be read by it.

    Without a box an answer that is refused would be sent again for ever: here it can be changed,
    or left out so that its question is asked again.
    """
    metres = form.get("asked_m", "").split(",")
    words = form.get("asked", "").split(",")
    boxes = []
    for name, value in form.items():
        figure = name in HEIGHTS or name in metres
        choice = name in {*PLAIN, *COLUMN_CHOICES, *words} or _OF_COLUMN.fullmatch(name)
        if name in shown or not value.strip() or not (figure or choice):
            continue
        told = name.partition("_")
        label = _LABELS.get(name) or (
            f"{'Unit of column' if told[0] == 'unit' else 'Column'} {told[2]}"
            if _OF_COLUMN.fullmatch(name)
            else name.replace("_", " ").capitalize()
        )
        boxes.append(
            AnswerBox(
                name=name,
                label=label,
                kind="figure" if figure else "choice",
                chosen="",
                why="change it, or leave it out to be asked again",
                ask=False,
                value=value.strip(),
                options=[] if figure else [(value.strip(), _words(value.strip()))],
                answered=True,
                echo=_echo(form, name, value) if figure else "",
                generic=name in words or name in metres,
            )
        )
    return boxes


def _box(
    guess: Guess, guesses: Sequence[Guess], form: Form, *, answered: bool, before: str
) -> AnswerBox:
    name, label, kind, options, generic = _shape(guess, guesses)
    asked = guess.ask or answered
    if kind == "choice" and asked and guess.key not in COLUMN_CHOICES:
        options = _with(options, guess.chosen)
    value = form.get(name, "").strip()
    if kind == "choice" and value:
        options = _with(options, value)
    if kind == "choice" and not options:
        kind = "text" if guess.ask else "fixed"
    return AnswerBox(
        name=name,
        label=label,
        kind=kind,
        chosen=_words(guess.chosen),
        why=guess.why,
        ask=guess.ask and not answered,
        value=value,
        options=options,
        answered=answered,
        before=before,
        echo=_echo(form, name, value) if kind == "figure" else "",
        generic=generic,
    )


def _shape(
    guess: Guess, guesses: Sequence[Guess]
) -> tuple[str, str, str, list[tuple[str, str]], bool]:
    """Return name, label, kind and options of a box, and whether its key is not known here."""
    key = guess.key
    label = _LABELS.get(key, key.replace("_", " ").capitalize())
    options = [(v, _words(v)) for v in guess.alternatives]
    found = COLUMN.search(key)
    if key in HEIGHTS:
        return key, label, "figure", [], False
    if key == "missing":
        marks = [("none", KEEP_MARKS)] if guess.chosen != "the usual marks" else []
        return key, label, "choice", marks, False
    if found and key.startswith(SCALE_OF):
        return f"scale_{found[1]}", f"Column {found[1]}: zero and span", "fixed", [], False
    if found:
        unit = key.startswith("unit of ")
        name = f"unit_{found[1]}" if unit else f"column_{found[1]}"
        label = f"Column {found[1]}"
        if unit or guess.ask:
            label = (
                f"{'Unit of' if unit else 'What'} column {found[1]}{'' if unit else ' measures'}"
            )
        return name, label, "choice", options, False
    if key in COLUMN_CHOICES:
        label = "Barometer" if guess.chosen == NO_BAROMETER else label
        return key, label, "choice", _column_options(guess, guesses), False
    if key in FIXED:
        return key, label, "fixed", [], False
    if key in PLAIN:
        return key, label, "choice", options, False
    name = re.sub(r"[^a-z0-9_]+", "_", key.lower())[:40].strip("_") or "answer"
    if guess.alternatives == METRES:
        return name, label, "figure", [], True
    return name, label, "choice", options, True


def _column_options(guess: Guess, guesses: Sequence[Guess]) -> list[tuple[str, str]]:
    """Return the columns that could give the head, or how an absolute pressure can be one."""
    told = [v.removesuffix(" is the head") for v in (guess.chosen, *guess.alternatives)]
    named = [(c[1], v) for v in told if (c := COLUMN.match(v))]
    if named:
        return named
    return [
        (VENTED + found[1], f"none is needed: the sensor of column {found[1]} is vented")
        for other in guesses
        if (found := COLUMN.fullmatch(other.key)) and other.chosen.startswith(Meaning.ABSOLUTE)
    ]


def _with(options: list[tuple[str, str]], value: str) -> list[tuple[str, str]]:
    known = value in [v for v, _ in options]
    return options if known or value in ("", "not known") else [(value, _words(value)), *options]


def _words(value: str) -> str:
    return _WORDS.get(value, value)


def _said(value: object) -> str:
    return f"{value:g} m" if isinstance(value, float) else _words(str(value))


def _echo(form: Form, name: str, value: str) -> str:
    try:
        read = forms.number(form, name, low=-10_000.0, high=10_000.0, unit="m") if value else None
    except BadInput:
        return ""
    if read is None:
        return ""
    if name not in HEIGHTS:
        return f"{read:g} m"
    side = "above" if read > 0.0 else "below"
    return "level with the crest" if read == 0.0 else f"{abs(read):g} m {side} the crest"


def reset_rows(problems: Sequence[Problem]) -> list[int]:
    """Return the rows at which the logger's clock was reset."""
    return [p.row for p in problems if "clock was reset" in p.rule]


def scaled_columns(
    form: Form, choices: Mapping[str, Any] | None = None, guesses: Sequence[Guess] = ()
) -> list[int]:
    """Return the columns of raw figures: scaled now, for this logger before, or still asked."""
    held = (choices or {}).get("columns") or {}
    asked = {c[1] for g in guesses if g.key.startswith(SCALE_OF) and (c := COLUMN.search(g.key))}
    return [
        n
        for n in range(1, MOST_COLUMNS)
        if SCALED in (form.get(f"unit_{n}"), held.get(str(n), {}).get("unit"))
        or str(n) in asked
        or form.get(f"zero_{n}", "").strip()
        or form.get(f"per_unit_{n}", "").strip()
    ]
