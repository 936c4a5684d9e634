"""The reader's choices as boxes of a form, and a filled form as answers to the reader.

A box left as it is keeps what was understood; only what a person changed becomes an answer. What
is accepted is what was seen: `seen_token` names the answers a preview was made with.

Public: AnswerBox, answer_boxes(preview, form), answers_of(form), seen_token(form), NOT_ASKED
"""

import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from app.errors import BadInput
from app.services import forms
from app.services.forms import Form
from app.services.logger_reader.columns import SCALED
from app.services.logger_reader.dates import DAYLIGHT, DAYLIGHT_CHANGES, STANDARD, UTC
from app.services.logger_reader.guesses import Guess
from app.services.logger_reader.left_out import Problem
from app.services.loggers import LoggerLine

PLAIN = (
    "delimiter", "decimal", "thousands", "date_order", "time_zone",
    "head_column", "time_column", "afternoon_mark",
)  # fmt: skip
COLUMN_CHOICES = ("columns", "head_column", "time_column")  # their options are columns
HEIGHTS = ("datum_above_crest_m", "bracket_above_crest_m", "sensor_above_crest_m")
KEEP_MARKS = "keep them as readings"
MOST_COLUMNS = 64
_COLUMN = re.compile(r"column (\d{1,3})")
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


@dataclass(frozen=True)
class AnswerBox:
    """One choice of the reader as a box of the form.

    kind: "fixed" (nothing to choose), "choice" (options of value and words) or "figure".
    """

    name: str
    label: str
    kind: str
    chosen: str
    why: str
    ask: bool
    value: str
    options: list[tuple[str, str]]


def answer_boxes(guesses: Sequence[Guess], form: Form) -> list[AnswerBox]:
    """Return the boxes of a preview, questions first, with what the form already says."""
    boxes: dict[str, AnswerBox] = {}
    for guess in guesses:
        box = _box(guess, form)
        held = boxes.get(box.name)
        if held is None or (box.ask and not held.ask):
            boxes[box.name] = box
    return sorted(boxes.values(), key=lambda box: not box.ask)


def _box(guess: Guess, form: Form) -> AnswerBox:
    unit = guess.key.startswith("unit of ")
    found = _COLUMN.search(guess.key)
    name = guess.key
    label = _LABELS.get(guess.key, guess.key.capitalize())
    kind, options = "choice", [(v, _WORDS.get(v, v)) for v in guess.alternatives]
    if guess.key in HEIGHTS:
        kind, options = "figure", []
    elif guess.key == "missing":
        options = [("none", KEEP_MARKS)] if guess.chosen != "the usual marks" else []
    elif guess.key.startswith("scale of "):
        label, options = f"Column {found[1]}: zero and span" if found else label, []
    elif found:
        name = f"unit_{found[1]}" if unit else f"column_{found[1]}"
        label = f"Unit of column {found[1]}" if unit else f"Column {found[1]}"
        label = f"What column {found[1]} measures" if guess.ask and not unit else label
    elif guess.key in COLUMN_CHOICES:
        options = [(c[1], f"column {c[1]}") for v in guess.alternatives if (c := _COLUMN.match(v))]
        first = _COLUMN.match(guess.chosen)
        if first and options:
            options.insert(0, (first[1], f"column {first[1]}"))
    elif guess.key not in PLAIN:
        options = []
    if guess.ask and kind == "choice" and guess.key not in COLUMN_CHOICES and options:
        options.insert(0, (guess.chosen, _WORDS.get(guess.chosen, guess.chosen)))
    value = form.get(name, "").strip()
    if kind == "choice" and value and value not in [v for v, _ in options]:
        options.insert(0, (value, _WORDS.get(value, value)))
    if kind == "choice" and not options:
        kind = "fixed"
    chosen = _WORDS.get(guess.chosen, guess.chosen)
    return AnswerBox(name, label, kind, chosen, guess.why, guess.ask, value, options)


def reset_rows(problems: Sequence[Problem]) -> list[int]:
    """Return the rows at which the logger's clock was reset."""
    return [p.row for p in problems if "clock was reset" in p.rule]


def scaled_columns(form: Form) -> list[int]:
    """Return the columns whose raw figures a person scales."""
    return [n for n in range(1, MOST_COLUMNS) if form.get(f"unit_{n}") == SCALED]


def answers_of(form: Form) -> dict[str, Any]:
    """Return the answers that a form holds; boxes left empty are no answers.

    Raises
    ------
    BadInput
        When a figure is none.
    """
    answers: dict[str, Any] = {key: form[key].strip() for key in PLAIN if form.get(key, "").strip()}
    if form.get("missing") == "none":
        answers["missing"] = []
    for key in HEIGHTS:
        value = forms.number(form, key, low=-10_000.0, high=10_000.0, unit="m")
        if value is not None:
            answers[key] = value
    columns: dict[str, dict[str, Any]] = {}
    head = form.get("columns", "").strip()
    if head:  # the column keeps its own meaning: a pressure is none the less no head
        answers.setdefault("head_column", head)
    for n in range(1, MOST_COLUMNS):
        for prefix, key in (("column", "meaning"), ("unit", "unit")):
            if text := form.get(f"{prefix}_{n}", "").strip():
                columns.setdefault(str(n), {})[key] = text
        for key in ("zero", "per_unit"):
            value = forms.number(form, f"{key}_{n}", low=-1e6, high=1e6)
            if value is not None:
                columns.setdefault(str(n), {})[key] = value
    if columns:
        answers["columns"] = columns
    if form.get("accept_dates") == "yes":
        answers["accept_dates"] = True
    restarts = [t for t in re.split(r"[\s,;]+", form.get("restart_at", "").strip()) if t]
    if restarts:
        answers["restart_at"] = restarts
    return answers


def clock_fast_s(form: Form) -> float:
    """Return how far the logger's clock ran before true time at the download, in seconds.

    Raises
    ------
    BadInput
        When it is neither seconds nor minutes and seconds.
    """
    typed = form.get("clock_fast_s", "").strip().replace("−", "-")
    parted = re.fullmatch(r"([+-]?)(?:(\d{1,3}):)?(\d{1,2}):([0-5]\d)", typed)
    if parted:
        hours, minutes, seconds = (int(parted[k] or 0) for k in (2, 3, 4))
        size = hours * 3600.0 + minutes * 60.0 + seconds
        return -size if parted[1] == "-" else size
    return forms.number(form, "clock_fast_s", low=-4e7, high=4e7, unit="s") or 0.0


def logger_id(form: Form) -> int | None:
    """Return the logger a form names; None for a new one or none."""
    text = form.get("logger", "").strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def logger_choice(form: Form, known: LoggerLine | None, here: Sequence[LoggerLine]) -> str:
    """Return what the box of loggers shows: what was said, else the one that was recognised."""
    if said := form.get("logger", "").strip():
        return said
    if known is not None:
        return str(known.id)
    return "" if here else "new"


def new_logger(form: Form) -> dict[str, Any] | None:
    """Return what a form says of a new logger, None when it names one that is known.

    Raises
    ------
    BadInput
        When the structure is missing.
    """
    if form.get("logger", "").strip() != "new":
        return None
    structure = form.get("structure_id", "").strip()
    if not (structure.isascii() and structure.isdigit() and len(structure) < 10):
        raise BadInput("structure_id", structure[:20], "this is needed", "Choose a structure.")
    kept = {key: form.get(key, "").strip() for key in ("name", "serial", "quantity", "reads")}
    return {**{key: text for key, text in kept.items() if text}, "structure_id": int(structure)}


def seen_token(form: Form) -> str:
    """Return a short name of everything that changes how a file is read and for which logger."""
    told = [answers_of(form), form.get("logger", ""), clock_fast_s(form)]
    text = json.dumps([*told, form.get("clock_shape") or "linear"], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]
