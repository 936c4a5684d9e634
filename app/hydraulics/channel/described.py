"""A section made from the name of its shape and its dimensions."""

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from app.errors import BadInput
from app.hydraulics.channel.compound import Compound as Compound
from app.hydraulics.channel.sections import (
    SAME_PARABOLA,
    Circle,
    Parabola,
    Rectangle,
    Trapezoid,
    Triangle,
    UShape,
)
from app.hydraulics.channel.shape import Section as Section
from app.hydraulics.channel.shape import above_zero


def section(kind: str, dims: Mapping[str, Any]) -> Section:
    """Build a section from its kind and a mapping of dimensions.

    Parameters
    ----------
    kind : {"rect", "trap", "tri", "u", "circle", "parab", "compound"}
    dims : mapping
        rect ``b``; trap ``b, m``; tri ``m``; u and circle ``D``; parab ``f`` (focal distance,
        x^2 = 4 f y), or ``f_T`` wide at a height ``f_y``;
        compound ``points``, pairs or text such as ``"0:0.6; 0.2:0; 0.5:0; 0.7:0.6"``.
        Lengths in metres. Keys of other kinds are ignored.

    Raises
    ------
    BadInput
        Names the dimension, its value, the rule and the remedy.
    """
    match kind:
        case "rect":
            return Rectangle(_number(dims, "b"))
        case "trap":
            return Trapezoid(_number(dims, "b"), _number(dims, "m"))
        case "tri":
            return Triangle(_number(dims, "m"))
        case "u":
            return UShape(_number(dims, "D"))
        case "circle":
            return Circle(_number(dims, "D"))
        case "parab":
            return Parabola(_focal(dims))
        case "compound":
            return Compound(_points(dims.get("points")))
    raise BadInput(
        "section", kind, "unknown kind", "Use rect, trap, tri, u, circle, parab or compound"
    )


def _focal(dims: Mapping[str, Any]) -> float:
    """Return f of x^2 = 4 f y, given itself or by a width T at a height y: f = T^2 / (16 y)."""
    both = [key for key in ("f_T", "f_y") if dims.get(key) is not None]
    if not both:
        return _number(dims, "f")
    width, height = _number(dims, "f_T"), _number(dims, "f_y")
    above_zero("f_T", width)
    above_zero("f_y", height)
    found = width**2 / (16.0 * height)
    if dims.get("f") is not None and abs(_number(dims, "f") / found - 1.0) > SAME_PARABOLA:
        raise BadInput(
            "f", dims["f"], f"is not the {found:.4g} m of the width at a height",
            "Give f, or the width and its height, not both",
        )  # fmt: skip
    return found


def _number(dims: Mapping[str, Any], key: str) -> float:
    value = dims.get(key)
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        raise BadInput(key, value, "a number in metres is needed", f"Give {key}") from None
    if not np.isfinite(number):
        raise BadInput(key, value, "a finite number is needed", f"Give {key}")
    return number


def _points(value: str | Sequence[Sequence[float]] | None) -> tuple[tuple[float, float], ...]:
    rows: Sequence[Sequence[Any]] = ()
    if isinstance(value, str):
        rows = [pair.split(":") for pair in re.split(r"[;,\s]+", value.strip()) if pair]
    elif value is not None:
        rows = value
    try:
        return tuple((float(offset), float(level)) for offset, level in rows)
    except (TypeError, ValueError):
        raise BadInput(
            "points", value, "pairs of offset and level are needed", "Write 0:0.6; 0.2:0; 0.5:0"
        ) from None
