"""Invented logger files of every habit seen in the field, made from a seed.

`whole(random)` gives a file with the truth that must come out of it; `broken(random)` gives the
same kind of file after something happened to it.
"""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import numpy as np

EPOCH = datetime(1970, 1, 1, tzinfo=UTC)

DATE_FORMS: dict[str, str | None] = {
    "%Y-%m-%d %H:%M:%S": None,
    "%Y-%m-%d %H:%M": None,
    "%Y-%m-%dT%H:%M:%S": None,
    "%Y/%m/%d %H:%M": None,
    "%d/%m/%Y %H:%M": "day first",
    "%d.%m.%Y %H:%M:%S": "day first",
    "%d-%m-%y %H:%M": "day first",
    "%m/%d/%Y %H:%M": "month first",
    "%m/%d/%y %I:%M:%S %p": "month first",
    "%d-%b-%Y %H:%M": None,
    "%b %d %Y %H:%M": None,
    "%Y%m%d%H%M": None,
    "%Y-%j %H:%M": None,
    "serial": None,
    "epoch": None,
    "day of year": None,
}
UNITS = {"mm": 1000.0, "cm": 100.0, "m": 1.0, "ft": 1.0 / 0.3048, "in": 1.0 / 0.0254}
DELIMITERS = {"comma": ",", "semicolon": ";", "tab": "\t", "bar": "|"}


@dataclass
class Made:
    """A file, what must come out of it, and the answers a person would give."""

    raw: bytes
    t_s: np.ndarray
    head_m: np.ndarray
    answers: dict[str, Any] = field(default_factory=dict)
    utc_offset_min: int = 720
    recipe: dict[str, Any] = field(default_factory=dict)


def _stamp(moment: datetime, form: str) -> list[str]:
    seconds = int((moment - EPOCH).total_seconds())
    if form == "serial":
        return [f"{25_569 + seconds / 86_400:.8f}"]
    if form == "epoch":
        return [str(seconds)]
    if form == "day of year":
        day = moment.timetuple().tm_yday
        return [str(moment.year), str(day), str(moment.hour * 100 + moment.minute)]
    return [moment.strftime(form)]


def whole(random: Random, rows: int | None = None) -> Made:
    """Return a file in which every row is as it should be."""
    form = random.choice(list(DATE_FORMS))
    unit = random.choice(list(UNITS))
    delimiter = random.choice(list(DELIMITERS))
    # a decimal comma in a comma file, or in the time column, is another file altogether
    comma = delimiter != "comma" and form != "serial" and random.random() < 0.4
    step = random.choice([60, 300, 600, 900, 900, 900, 1800, 3600])
    count = random.randint(4, 30) if rows is None else rows
    # stamps without seconds, or with a rounded day number, still hold whole minutes exactly
    start = datetime(2019, 1, 1, tzinfo=UTC) + timedelta(minutes=random.randrange(0, 4_000_000, 5))
    moments = [start + timedelta(seconds=step * i) for i in range(count)]
    places = {"mm": 1, "cm": 2, "m": 4, "ft": 4, "in": 3}[unit]
    level = random.uniform(0.05, 0.9)
    heads = [
        max(0.0, level + 0.03 * np.sin(i / 5.0) + random.gauss(0, 0.001)) for i in range(count)
    ]
    written = [round(head * UNITS[unit], places) for head in heads]
    missing = random.choice(["", "---", "NaN", "-999", "-9999"])
    holes = {i for i in range(1, count) if random.random() < random.choice([0.0, 0.0, 0.1])}
    battery = random.random() < 0.4
    quoted = random.random() < 0.15
    sign = DELIMITERS[delimiter]

    def cell(text: str) -> str:
        return f'"{text}"' if quoted else text

    def number(value: float, digits: int) -> str:
        text = f"{value:.{digits}f}"
        return text.replace(".", ",") if comma else text

    split = form in ("%Y-%m-%d %H:%M:%S", "%d/%m/%Y %H:%M", "%m/%d/%Y %H:%M")
    split = split and random.random() < 0.4
    table = []
    for i, moment in enumerate(moments):
        stamp = _stamp(moment, form)
        if split:
            stamp = stamp[0].split(" ")
        value = missing if i in holes else number(written[i], places)
        cells = [*stamp, value]
        if battery:
            cells.append(number(12.0 + random.random(), 2))
        table.append(sign.join(cell(text) for text in cells))
    titles = {1: ["Time"], 2: ["Date", "Time"], 3: ["Year", "Day", "HHMM"]}[
        2 if split else 3 if form == "day of year" else 1
    ]
    unit_row = random.random() < 0.2
    names = [*titles, "Level" if unit_row else random.choice([f"Level ({unit})", f"Head [{unit}]"])]
    if battery:
        names.append("Battery (V)")
    top = [f"Invented logger no. {random.randint(1, 99)}"] if random.random() < 0.4 else []
    top += [f"Remark {sign} line {k}" for k in range(random.choice([0, 0, 1, 5]))]
    top.append(sign.join(cell(name) for name in names))
    if unit_row:
        top.append(sign.join([*([""] * len(titles)), unit, *(["V"] if battery else [])]))
    bottom = random.choice([[], [], ["", ""], ["End of data"]])
    ending = random.choice(["\n", "\r\n", "\r"])
    text = ending.join([*top, *table, *bottom])
    text += ending if bottom or random.random() < 0.9 else ""
    codec = random.choice(["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
    answers: dict[str, Any] = {"time_zone": "utc" if form == "epoch" else "standard"}
    order = DATE_FORMS[form]
    if order:
        answers["date_order"] = order
    if comma:
        answers["decimal"] = "comma"
    seconds = np.array([int((moment - EPOCH).total_seconds()) for moment in moments])
    head_m = np.array([value / UNITS[unit] for value in written])
    head_m[list(holes)] = np.nan
    return Made(
        raw=text.encode(codec),
        t_s=seconds - (0 if form == "epoch" else 720 * 60),
        head_m=head_m,
        answers=answers,
        recipe={"form": form, "unit": unit, "delimiter": delimiter, "codec": codec},
    )


_JUNK = (
    *("\x00", "\x1a", '"', '""', ",,,,", ";;", "\t", "\u00e9", "25:99", "99/99/9999", "1e999"),
    *("--", "\u221e", "\u0663\u0664", "=1+1", "inf", "1_000", "24:00", "0,251", "-"),
    *("2036-02-07 06:28", "\ufeff", "\r\r"),
)


def broken(random: Random) -> bytes:
    """Return a file to which something happened."""
    raw = bytearray(whole(random).raw)
    for _ in range(random.randint(1, 5)):
        at = random.randrange(len(raw) + 1)
        what = random.randrange(8)
        if what == 0:
            raw = raw[:at]
        elif what == 1:
            raw[at : at + random.randint(1, 40)] = b""
        elif what == 2 and raw:
            raw[min(at, len(raw) - 1)] = random.randrange(256)
        elif what == 3:
            raw[at:at] = random.choice(_JUNK).encode()
        elif what == 4:
            raw[at:at] = bytes(random.randrange(256) for _ in range(random.randint(1, 30)))
        elif what == 5:
            raw += raw[at:]
        elif what == 6:
            lines = bytes(raw).split(b"\n")
            random.shuffle(lines)
            raw = bytearray(b"\n".join(lines))
        else:
            raw = bytearray(bytes(raw).replace(b":", random.choice([b"", b".", b"::"])))
    return bytes(raw)


ANSWERS: dict[str, list[Any]] = {
    "delimiter": ["comma", "semicolon", "tab", "bar", "space", "colon", 3, None],
    "decimal": ["point", "comma", "x", []],
    "thousands": ["none", "comma", "point", "space", 0],
    "date_order": ["day first", "month first", "year first", "any", {}],
    "time_zone": ["standard", "utc", "daylight", "daylight changes", "+12:00", "+99:00", 5],
    "missing": [["-1"], [], "x", [1], ["nan", "0.2"], 7],
    "columns": [
        {"2": {"unit": "mm"}},
        {"2": {"meaning": "pressure, absolute", "unit": "kPa"}},
        {"9": {}},
        {"2": {"meaning": "wine"}},
        {"2": {"meaning": "not used"}},
        {"2": {"meaning": "head", "unit": "scaled", "zero": 0.1, "per_unit": 0.01}},
        {"2": {"meaning": "distance down to the water", "unit": "cm"}},
        {"2": {"zero": "a"}},
        {"x": 4},
        [],
        "y",
    ],
    "bracket_above_crest_m": [1.2, "a", -5, float("nan")],
    "datum_above_crest_m": [0.5, True, 1e9],
    "restart_at": ["2026-03-04T10:15", ["2026-03-04"], "never", [5], 12],
    "accept_dates": [True, "yes"],
}


def some_answers(random: Random) -> dict[str, Any]:
    """Return answers right and wrong."""
    keys = random.sample(list(ANSWERS), random.choice([0, 0, 0, 0, 1, 2, 3]))
    return {key: random.choice(ANSWERS[key]) for key in keys}
