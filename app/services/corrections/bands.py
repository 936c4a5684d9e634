"""The acceptance bands of sensors as an office form in millimetres and per cent."""

import math
from collections.abc import Callable
from functools import partial

from sqlmodel import Session

from app.hydraulics.base.units import LENGTH_M
from app.hydraulics.series.sensor_checks import ACCEPTANCE
from app.language import forms
from app.language.forms import Form
from app.records.people import Person
from app.services.settings import change, in_force


def set_bands_form(session: Session, form: Form, person: Person) -> None:
    """Set the bands from a form: over_mm_1 .. and over_flow_pct_1 ..; the first begins at 0.

    Raises
    ------
    BadInput
        When a figure is missing or none, or the limits do not rise.
    """
    boxes: dict[str, Callable[[], float | None]] = {}
    for k in range(1, len(ACCEPTANCE)):
        over, pct = f"over_mm_{k}", f"over_flow_pct_{k}"
        boxes[over] = partial(forms.needed, form, over, low=0.0, high=999.0, unit="mm")
        boxes[pct] = partial(forms.number, form, pct, low=0.0, high=100.0, unit="%")
    found = forms.together(**boxes)
    values: list[tuple[float, float | None]] = [(0.0, 0.0)]
    for k in range(1, len(ACCEPTANCE)):
        values.append((found[f"over_mm_{k}"] * LENGTH_M["mm"], found[f"over_flow_pct_{k}"]))
    change.set_bands(session, values, person)


def bands_form(session: Session) -> list[dict[str, str]]:
    """Return the bands in force as the form shows them."""
    return [
        {
            "key": band.key,
            "over_mm": forms.figure_text(round(band.over_m / LENGTH_M["mm"], 6)),
            "over_flow_pct": ""
            if math.isinf(band.over_flow_pct)
            else forms.figure_text(band.over_flow_pct),
            "action": band.action,
        }
        for band in in_force.bands(session)
    ]
