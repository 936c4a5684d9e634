"""Amounts of a correction: read in the head unit of a form, kept in metres, said to people."""

from app.errors import BadInput
from app.hydraulics.base.units import LENGTH_M
from app.hydraulics.series.layers import CLOCKS, Shape
from app.language import forms, words
from app.language.forms import Form
from app.records.sensors import CorrectionLayer
from app.services.series.spread import ESTIMATE_UNCERTAINTY_M

LARGEST_M = 5.0
RAMPS = (Shape.CLOCK_DRIFT, Shape.RAMP, Shape.STEP, Shape.ESTIMATED)
MARKS = (Shape.SPIKE, Shape.NO_RECORD)


def unit_of(form: Form) -> str:
    """Return the unit of the heads of a form; metres where an old address names none."""
    unit = form.get("unit") or "m"
    if unit not in LENGTH_M:
        raise BadInput("unit", unit[:20], "is no unit of a head", "Use mm, cm, m or ft.")
    return unit


def added_uncertainty_m(form: Form, shape: Shape) -> float:
    """Return the uncertainty that a correction adds, m, k = 2; an estimate always adds some."""
    unit = unit_of(form)
    typed = forms.number(form, "uncertainty", low=0.0, high=LARGEST_M / LENGTH_M[unit], unit=unit)
    if typed is not None:
        return round(typed * LENGTH_M[unit], 9)
    named = forms.number(form, "uncertainty_m", low=0.0, high=LARGEST_M, unit="m")
    if named is not None:
        return named
    return ESTIMATE_UNCERTAINTY_M if shape is Shape.ESTIMATED else 0.0


def amounts(form: Form, shape: Shape) -> tuple[float | None, float | None]:
    """Return the amounts in seconds or metres; typed heads are in the unit of the form."""
    if shape in MARKS:
        return 0.0, 0.0
    unit = unit_of(form)
    factor, largest = LENGTH_M[unit], LARGEST_M / LENGTH_M[unit]
    if shape in CLOCKS:
        factor, largest, unit = 1.0, 366 * 86_400.0, "s"

    def read(field: str) -> float | None:
        value = forms.number(form, field, low=-largest, high=largest, unit=unit)
        return None if value is None else round(value * factor, 9)

    begin, end = read("amount"), read("amount_end")
    if shape is Shape.ESTIMATED:
        return begin, end
    if shape in RAMPS:
        if begin is None and shape is Shape.CLOCK_DRIFT:
            begin = 0.0
        for field, value in (("amount", begin), ("amount_end", end)):
            if value is None:
                raise BadInput(field, "", "this is needed", f"Give a figure in {unit}.")
        return begin, end
    if begin is None:
        raise BadInput("amount", "", "this is needed", f"Give a figure in {unit}.")
    return begin, begin


def amount_words(row: CorrectionLayer, unit: str = "mm") -> str:
    """Return the amount of a correction as people read it, heads in a unit of length."""
    shape = Shape(row.shape)
    if shape in MARKS:
        return "readings inside do not count"
    if row.amount is None or row.amount_end is None:
        return "the readings stand, marked as estimated"
    if shape in CLOCKS:
        if shape is Shape.CLOCK_SHIFT:
            return f"clock {row.amount:+.0f} s fast"
        return (
            f"clock {row.amount:+.0f} s fast at the beginning, {row.amount_end:+.0f} s at the end"
        )
    begin, end = (
        words.millimetres(value) if unit == "mm" else f"{value / LENGTH_M[unit]:.6g} {unit}"
        for value in (row.amount, row.amount_end)
    )
    if shape is Shape.ESTIMATED:
        return f"head {begin} at the beginning, {end} at the end"
    if shape is Shape.OFFSET:
        return f"{begin} added"
    joint = "before the step, then" if shape is Shape.STEP else "at the beginning, growing to"
    return f"{begin} added {joint} {end}"
