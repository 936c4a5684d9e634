"""A filled form, or what was typed on a command line, as answers to the reader of logger files.

What is accepted is what was seen: `seen_token` names the answers a preview was made with.
"""

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from typing import Any

from app.errors import BadInput
from app.language import forms
from app.language.forms import Form
from app.services.loggers.reader.columns import SCALED, Meaning
from app.services.loggers.reader.places import MOST_COLUMNS
from app.services.loggers.register import LoggerLine

PLAIN = (
    "delimiter", "decimal", "thousands", "date_order", "time_zone",
    "head_column", "time_column", "afternoon_mark",
)  # fmt: skip
COLUMN_CHOICES = ("columns", "head_column", "time_column")  # answered with a column
HEIGHTS = ("datum_above_crest_m", "bracket_above_crest_m", "sensor_above_crest_m")
VENTED = "vented column "
COLUMN = re.compile(r"column (\d{1,3})")
_NAME = re.compile(r"[a-z][a-z0-9_]{0,39}")
_TAKEN = {"columns", "missing", "accept_dates", "restart_at", "logger", "seen", "asked", "asked_m"}


def put(answers: dict[str, Any], key: str, value: Any) -> None:
    """Put an answer to the question of a key where the reader looks for it.

    Which column is the head is one answer, `head_column`, whichever way the reader asked. The
    column keeps its own meaning: a pressure that gives the head is none the less no head.

    Raises
    ------
    BadInput
        When what is said of a column cannot be taken apart.
    """
    found = COLUMN.search(key)
    number = COLUMN.match(str(value)) or re.fullmatch(r"(\d{1,3})", str(value))
    if key in COLUMN_CHOICES and number:
        answers["head_column" if key == "columns" else key] = number[1]
    elif key == "columns" and str(value).startswith(VENTED):
        put(answers, str(value).removeprefix("vented "), str(Meaning.PRESSURE))
    elif key == "columns":
        for column, said in _said_of_columns(value).items():
            _of_column(answers, str(column)).update(said)
    elif found and key.startswith("scale of ") and isinstance(value, Mapping):
        _of_column(answers, str(int(found[1]))).update({"unit": SCALED, **value})
    elif found:
        part = "unit" if key.startswith("unit of ") else "meaning"
        _of_column(answers, str(int(found[1])))[part] = value
    else:
        answers[key] = value


def _of_column(answers: dict[str, Any], number: str) -> dict[str, Any]:
    said: dict[str, Any] = answers.setdefault("columns", {}).setdefault(number, {})
    return said


def _said_of_columns(value: object) -> Mapping[str, Mapping[str, Any]]:
    if isinstance(value, Mapping) and all(isinstance(said, Mapping) for said in value.values()):
        return value
    raise BadInput(
        "columns",
        str(value)[:40],
        "is the number of the column that is the head, or what each column measures",
        'Such as 3, or {"2": {"meaning": "head", "unit": "mm"}}.',
    )


def answers_of(form: Form) -> dict[str, Any]:
    """Return the answers that a form holds; boxes left empty are no answers.

    `asked` names the boxes of keys that are not known here, `asked_m` those that take metres.

    Raises
    ------
    BadInput
        When a figure is none.
    """
    more, metres = (_names(form, key) for key in ("asked", "asked_m"))
    answers: dict[str, Any] = {}
    for key in ("columns", *PLAIN, *more):
        if text := form.get(key, "").strip():
            put(answers, key, text)
    if form.get("missing") == "none":
        answers["missing"] = []
    for key in (*HEIGHTS, *metres):
        value = forms.number(form, key, low=-10_000.0, high=10_000.0, unit="m")
        if value is not None:
            answers[key] = value
    for n in range(1, MOST_COLUMNS):
        for prefix, key in (("column", f"column {n}"), ("unit", f"unit of column {n}")):
            if text := form.get(f"{prefix}_{n}", "").strip():
                put(answers, key, text)
        for key in ("zero", "per_unit"):
            value = forms.number(form, f"{key}_{n}", low=-1e6, high=1e6)
            if value is not None:
                said = _of_column(answers, str(n))
                said.setdefault("unit", SCALED)
                said[key] = value
    if form.get("accept_dates") == "yes":
        answers["accept_dates"] = True
    restarts = [t for t in re.split(r"[\s,;]+", form.get("restart_at", "").strip()) if t]
    if restarts:
        answers["restart_at"] = restarts
    return answers


def _names(form: Form, key: str) -> list[str]:
    names = form.get(key, "").split(",")[:40]
    return [n for n in names if _NAME.fullmatch(n) and n not in _TAKEN and n not in HEIGHTS]


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
