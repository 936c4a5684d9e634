"""What a setting is, and the kinds of value: how a box is read, how a value is said."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from app.errors import BadInput
from app.hydraulics.base.units import LENGTH_M
from app.language import forms
from app.language.forms import Form

MM_M = LENGTH_M["mm"]
BOX = "value"


@dataclass(frozen=True, kw_only=True)
class Known:
    """One setting: how its box is read, how it is said, and what follows from it."""

    key: str
    label: str
    group: str
    default: Any
    source: str
    follows: str
    read: Callable[[Form], Any]
    say: Callable[[Any], str]
    box: Callable[[Any], str]
    range: str = ""
    unit: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    typed: bool = True
    """Whether the page of settings has its box; the bands have a form of their own."""
    phone: tuple[str, str] | None = None
    """Room and name of the threshold that the pack carries, which is this very number."""


def figure(
    key: str,
    label: str,
    *,
    default: float,
    per_unit: float,
    unit: str,
    low: float,
    high: float,
    **more: Any,
) -> Known:
    """Return a setting that is a figure; kept in SI, typed and said in its unit."""

    def shown(value: Any) -> str:
        return forms.figure_text(round(value / per_unit, 9))

    def read(form: Form) -> float:
        typed = forms.needed(form, BOX, low=low, high=high, unit=unit)
        return round(typed * per_unit, 12)

    return Known(
        key=key,
        label=label,
        default=default,
        unit=unit,
        read=read,
        box=shown,
        say=lambda value: f"{shown(value)} {unit}",
        range=f"{low:g} to {high:g} {unit}",
        **more,
    )


def choice(key: str, label: str, choices: tuple[tuple[str, str], ...], **more: Any) -> Known:
    shown = dict(choices)

    def read(form: Form) -> str:
        typed = form.get(BOX, "").strip()
        if typed not in shown:
            raise BadInput(
                BOX, typed[:40], "not one of the choices", f"One of: {', '.join(shown)}."
            )
        return typed

    return Known(
        key=key,
        label=label,
        choices=choices,
        read=read,
        box=str,
        say=lambda value: shown.get(value, str(value)),
        range="one of the list",
        **more,
    )


def offset_said(value: int | None) -> str:
    if value is None:
        return "that of the computer it is typed on"
    sign, size = "-" if value < 0 else "+", abs(value)
    return f"{sign}{size // 60:02d}:{size % 60:02d}"


def bands_said(value: list[list[float | None]]) -> str:
    parts = [
        f"{forms.figure_text(round((over_m or 0.0) / MM_M, 6))} mm"
        + (f" or {forms.figure_text(pct)} % of flow" if pct is not None else "")
        for over_m, pct in value[1:]
    ]
    return "over " + "; ".join(parts)


def elsewhere(form: Form) -> Any:
    raise BadInput(
        BOX, "", "the bands have a form of their own", "Open Corrections at any structure."
    )


def short_text(form: Form) -> str:
    return forms.text(form, BOX, most=80, required=True)


def days(form: Form) -> int:
    found = forms.whole_days(form, BOX, high=366)
    if found is None:
        raise BadInput(BOX, "", "this is needed", "Give whole days.")
    return found
