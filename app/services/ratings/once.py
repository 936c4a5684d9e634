"""Rate heads without a site: for the command line and for checks against printed tables."""

import csv
import io
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.base import units
from app.hydraulics.families.registry import build
from app.hydraulics.rating.rate import Rated, rate
from app.hydraulics.rating.uncertainty import RANGE_EXPONENT, round_to_uncertainty
from app.hydraulics.structure.device import Device, Flag, Flow, Provenance, flag_words
from app.services.sites.words import drowning

MOST_M = 50.0  # no head over a flume or weir is higher
RANGE_SOURCE = {
    "text": f"Outside the tested heads the exponent is doubted by {RANGE_EXPONENT:g} (k = 2), and "
    "far above them no discharge is given",
    "provenance": str(Provenance.PRACTICE),
}
BEYOND = flag_words(Flag.BEYOND_LIMIT)[0]
_OWN_FIGURES = ("coefficient", "velocity_coefficient", "total_head_m", "froude")
CSV_COLUMNS = (
    "head_m",
    "tailwater_m",
    "discharge_m3s",
    "uncertainty_pct",
    "submergence_ratio",
    "flow",
    "flags",
    "note",
)


def dims_from_pairs(pairs: Sequence[str]) -> dict[str, str | float]:
    """Return dimensions from texts such as "b=0.3".

    Raises
    ------
    BadInput
        When a text has no "=".
    """
    dims: dict[str, str | float] = {}
    for pair in pairs:
        key, equals, value = pair.partition("=")
        if not equals or not key.strip():
            raise BadInput("dim", pair, "must read key=value", "Write --dim b=0.3, for example.")
        dims[key.strip()] = value.strip()
    return dims


def rate_one(
    family_key: str,
    dims: Mapping[str, str | float],
    head: str | float,
    tailwater: str | float | None = None,
    head_uncertainty: str | float = 0.003,
) -> dict[str, Any]:
    """Rate one head and return plain data for JSON.

    Raises
    ------
    BadInput
        For an impossible dimension or head, or a tailwater above the head.
    """
    device = build(family_key, dims)
    head_m = units.length_m("head", head, low=-MOST_M, high=MOST_M)
    tail_m = (
        None
        if tailwater in (None, "")
        else units.length_m("tailwater", tailwater or 0.0, low=-MOST_M, high=MOST_M)
    )
    spread = units.length_m("head-uncertainty", head_uncertainty)
    rated = rate(device, head_m, tail_m, spread, compare=True)
    if tail_m is not None and int(rated.flags) & Flag.TAILWATER_ABOVE_HEAD:
        raise BadInput(
            "tailwater",
            f"{tail_m:g} m",
            f"lies above the head, {head_m:g} m: no discharge can be given",
            "Check both readings and that both are over the same zero.",
        )
    return _answer(device, rated, head_m, tail_m is not None)


def _answer(device: Device, rated: Rated, head_m: float, with_tail: bool) -> dict[str, Any]:
    answer = _row(rated, ())
    answer["sources"] = [
        {"text": source.text, "provenance": str(source.provenance)} for source in device.sources
    ]
    for key in _OWN_FIGURES:
        if key in rated.detail:
            answer[key] = _number(rated.detail[key])
    heads = np.asarray([head_m])
    if device.can_drown:
        answer["modular_limit"] = _number(device.modular_limit(heads))
    answer["drowning"] = drowning(device, head_m)
    answer["head_range_m"] = [device.head_min_m, device.head_max_m]
    answer["head_limit_m"] = device.head_limit_m
    parts = {key: _number(values) for key, values in rated.parts.items()}
    answer["parts"] = {k: v for k, v in parts.items() if v or k != "range"}
    if "range" in answer["parts"] or BEYOND in answer["flags"]:
        answer["sources"].append(RANGE_SOURCE)
    comparison = {key: _number(value) for key, value in device.compare_limits(heads).items()}
    if with_tail:
        others = {k: v for k, v in rated.detail.items() if k.startswith(("free_", "submerged_"))}
        comparison |= {key: _number(values) for key, values in others.items()}
    if comparison:
        answer["comparison"] = comparison
    if "modular_limit_by_energy" in comparison and {"tail_B", "tail_m", "p2"} & device.dims.keys():
        # The tail channel is described, so its own limit is the answer; flags use the lower.
        answer["modular_limit_used"] = answer["modular_limit"]
        answer["modular_limit"] = comparison["modular_limit_by_energy"]
    return answer


def rate_csv(
    family_key: str,
    dims: Mapping[str, str | float],
    text: str,
    head_uncertainty: str | float = 0.003,
) -> list[dict[str, Any]]:
    """Rate the rows of a CSV text with columns head_m and, optionally, tailwater_m.

    A row that cannot be read is answered as not rated, with a note; it blocks no other.

    Raises
    ------
    BadInput
        For an impossible dimension, or a file without the head column.
    """
    device = build(family_key, dims)
    spread = units.length_m("head-uncertainty", head_uncertainty)
    text = text.lstrip("\ufeff")
    between = ";" if ";" in text.partition("\n")[0] else ","  # decimal commas come with semicolons
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True, delimiter=between)
    names = {(name or "").strip().lower(): name for name in reader.fieldnames or ()}
    if "head_m" not in names:
        raise BadInput(
            "csv",
            ", ".join(names) or "empty",
            "needs a column named head_m",
            "Name the columns head_m and, for tailwater, tailwater_m.",
        )
    has_tail = "tailwater_m" in names
    heads, tails, notes = [], [], []
    for row in reader:
        head, head_note = _cell(row, names["head_m"], needed=True)
        tail, tail_note = _cell(row, names["tailwater_m"], needed=False) if has_tail else (None, "")
        # a tailwater that cannot be read must not pass for one that was not taken
        heads.append(np.nan if head is None or tail_note else head)
        tails.append(np.nan if tail is None else tail)
        notes.append("; ".join(note for note in (head_note, tail_note) if note))
    rated = rate(device, np.asarray(heads, float), tails if has_tail else None, spread)
    return [
        {
            "head_m": _number(rated.head_m[i]),
            "tailwater_m": _number(rated.tailwater_m[i]),
            **_row(rated, i),
            "note": notes[i],
        }
        for i in range(len(heads))
    ]


def say(answer: Mapping[str, Any]) -> str:
    """Return an answer's discharge as a sentence, rounded to its uncertainty, with its budget."""
    flow, pct = answer["discharge_m3s"], answer["uncertainty_pct"]
    if flow is None and BEYOND in answer["flags"]:
        return (
            f"Discharge: none is given above a head of {answer['head_limit_m']:.4g} m "
            f"(tested to {answer['head_range_m'][1]:.4g} m)"
        )
    if flow is None:
        return "Discharge: not determined"
    if flow == 0:
        return "Discharge: none"
    litres = round_to_uncertainty(1000.0 * flow, pct)
    parts = ", ".join(f"{key} {value:.2g} %" for key, value in answer["parts"].items() if value)
    return f"Discharge: {litres} L/s, give or take {pct:.2g} % ({parts}; k = 2)"


def as_csv(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return rated rows as CSV text; an unknown figure is an empty cell."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(CSV_COLUMNS)
    for row in rows:
        cells = [row[column] for column in CSV_COLUMNS]
        writer.writerow(
            "" if c is None else "; ".join(c) if isinstance(c, list) else c for c in cells
        )
    return out.getvalue()


def _cell(row: Mapping[str, str | None], name: str, *, needed: bool) -> tuple[float | None, str]:
    text = (row.get(name) or "").strip()
    if not text:
        return None, f"{name.strip()} is empty" if needed else ""
    try:
        return units.length_m(name.strip(), text, low=-MOST_M, high=MOST_M), ""
    except BadInput as error:
        return None, str(error)


def _row(rated: Rated, at: int | tuple[()]) -> dict[str, Any]:
    return {
        "discharge_m3s": _number(rated.discharge_m3s[at]),
        "uncertainty_pct": _number(rated.uncertainty_pct[at]),
        "submergence_ratio": _number(rated.submergence_ratio[at]),
        "flow": Flow(int(rated.flow[at])).word,
        "flags": flag_words(int(rated.flags[at])),
    }


def _number(value: Any) -> float | None:
    number = float(np.asarray(value).reshape(-1)[0])
    return number if np.isfinite(number) else None
