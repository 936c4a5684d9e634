"""Correction layers over a raw logger series, always applied in one fixed order.

The idea: the raw series is never touched. A correction is a `Layer` (shape, from, to, amount);
the corrected series is computed from raw and layers every time, so taking a layer away gives
back the very same bytes. The order does not depend on the order in which people wrote them:

1. clock: shift and linear drift. Their periods are in the *logger's* time, every other period
   is in true time. All clock layers read the raw stamps and add up.
2. offset, ramp between two checks, step at a time: metres *added* to the reading, they add up.
3. spike: the reading is set aside (missing), not deleted.
4. estimated: marked as estimated; with amounts, the line between them replaces the readings.
5. no record: nothing inside the period counts, and nothing is ever drawn across it.

Public functions
----------------
apply_layers(t_s, value, layers, *, step_s=900) -> Corrected
clock_error_s(t_s, layers) -> float64 array (seconds the logger was fast, to subtract)
added_m(t_s, layers) -> float64 array (metres to add, at true times)
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum, StrEnum

import numpy as np
from numpy.typing import NDArray

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats, Ints


class Shape(StrEnum):
    """The shapes a correction can have, in the order in which they are applied."""

    CLOCK_SHIFT = "clock shift"
    CLOCK_DRIFT = "clock drift"
    OFFSET = "offset"
    RAMP = "ramp"
    STEP = "step"
    SPIKE = "spike"
    ESTIMATED = "estimated"
    NO_RECORD = "no record"


ORDER: tuple[Shape, ...] = tuple(Shape)
CLOCKS = (Shape.CLOCK_SHIFT, Shape.CLOCK_DRIFT)


class How(IntEnum):
    """How a value of the corrected series came about."""

    MEASURED = 0
    ESTIMATED = 1
    MISSING = 2
    SPIKE = 3
    NO_RECORD = 4

    @property
    def word(self) -> str:
        """The word people read."""
        return self.name.lower().replace("_", " ")


@dataclass(frozen=True)
class Layer:
    """One correction.

    Parameters
    ----------
    shape : Shape
    from_s, to_s : int
        Epoch seconds. Clock, offset, ramp and step: from included, to excluded, so that two
        ramps that meet at a check never count twice. Marks and periods: both ends included.
    amount, amount_end : float
        Seconds the logger was fast (clock) or metres to add. Ramp and drift run from `amount`
        at `from_s` to `amount_end` at `to_s`; a step has `amount` before `at_s` and
        `amount_end` from it on. Estimated: head in metres at both ends, NaN keeps the readings.
    at_s : int or None
        Time of a step.
    """

    shape: Shape
    from_s: int
    to_s: int
    amount: float = 0.0
    amount_end: float = 0.0
    at_s: int | None = None

    def __post_init__(self) -> None:
        """Refuse periods and amounts that cannot be applied."""
        if self.to_s < self.from_s:
            raise BadInput(
                "to", self.to_s, "a correction ends after it begins", "Swap from and to."
            )
        if self.shape is not Shape.ESTIMATED:
            for field in ("amount", "amount_end"):
                if not np.isfinite(getattr(self, field)):
                    raise BadInput(
                        field, getattr(self, field), "a correction is a number", "Enter a number."
                    )
        elif np.isfinite(self.amount) != np.isfinite(self.amount_end):
            raise BadInput(
                "amount_end",
                self.amount_end,
                "an estimated line has a head at both ends",
                "Enter both heads, or neither to keep the readings and mark them estimated.",
            )
        if self.shape is Shape.STEP and (
            self.at_s is None or not self.from_s <= self.at_s <= self.to_s
        ):
            raise BadInput(
                "at", self.at_s, "a step has a time inside its period", "Enter the time of it."
            )


@dataclass(frozen=True)
class Corrected:
    """A corrected series, in order of true time.

    `source` is the index of the raw point, -1 for a point a person's estimate or a no-record
    period put there; `how` holds codes of `How`. All arrays have the same length.
    """

    t_s: Ints
    value: Floats
    how: NDArray[np.int8]
    source: Ints


def _line(t: Floats, layer: Layer) -> Floats:
    """Return the straight line of a layer at times t, constant beyond its ends."""
    span = layer.to_s - layer.from_s
    share = np.clip((t - layer.from_s) / span, 0.0, 1.0) if span else np.zeros_like(t)
    return layer.amount + (layer.amount_end - layer.amount) * share


def clock_error_s(t_s: Ints, layers: Iterable[Layer]) -> Floats:
    """Return how many seconds the logger was fast at each of its own stamps, shape (n,).

    Subtract it from the stamp to get true time. Linear drift starts at `amount` at the last
    setting and reaches `amount_end` at the download.
    """
    error = np.zeros(t_s.shape)
    for layer in layers:
        if layer.shape not in CLOCKS:
            continue
        inside = (t_s >= layer.from_s) & (t_s <= layer.to_s)
        if layer.shape is Shape.CLOCK_SHIFT:
            error[inside] += layer.amount
        else:
            error[inside] += _line(t_s[inside].astype(np.float64), layer)
    return error


def added_m(t_s: Ints, layers: Iterable[Layer]) -> Floats:
    """Return the metres that offset, ramp and step layers add at true times, shape (n,)."""
    added = np.zeros(t_s.shape)
    for layer in layers:
        inside = (t_s >= layer.from_s) & (t_s < layer.to_s)
        if layer.shape is Shape.OFFSET:
            added[inside] += layer.amount
        elif layer.shape is Shape.RAMP:
            added[inside] += _line(t_s[inside].astype(np.float64), layer)
        elif layer.shape is Shape.STEP and layer.at_s is not None:
            added[inside] += np.where(t_s[inside] < layer.at_s, layer.amount, layer.amount_end)
    return added


def apply_layers(
    t_s: Ints, value: Floats, layers: Sequence[Layer], *, step_s: int = 900
) -> Corrected:
    """Return the corrected series; raw arrays are read, never written.

    Parameters
    ----------
    t_s : int64 array, shape (n,)
        The logger's stamps, epoch seconds.
    value : float64 array, shape (n,), metres
        NaN is missing.
    layers : sequence of Layer
        In any order: they are applied in `ORDER`.
    step_s : int
        Spacing of the points an estimated line adds where there are no readings.

    Returns
    -------
    Corrected
        m >= n points. No raw point is lost: a spike keeps its place with a missing value.

    Raises
    ------
    BadInput
        If the two arrays differ in length or the spacing is not positive.
    """
    if t_s.shape != value.shape or t_s.ndim != 1:
        raise BadInput(
            "value", value.shape, "one value for each time", "Give arrays of one length."
        )
    if step_s <= 0:
        raise BadInput("step", step_s, "the spacing is above zero", "Give seconds, such as 900.")
    ordered = sorted(layers, key=lambda layer: ORDER.index(layer.shape))
    clocks = [layer for layer in ordered if layer.shape in CLOCKS]
    t = t_s.astype(np.int64)  # a copy
    source = np.arange(t.size, dtype=np.int64)
    if clocks:
        t = t - np.rint(clock_error_s(t_s, clocks)).astype(np.int64)
    if t.size and np.any(np.diff(t) < 0):
        source = np.argsort(t, kind="stable")
        t = t[source]
    v = value[source].astype(np.float64)  # a copy
    v[np.isinf(v)] = np.nan
    if any(layer.shape in (Shape.OFFSET, Shape.RAMP, Shape.STEP) for layer in ordered):
        v += added_m(t, ordered)
    how = np.where(np.isnan(v), How.MISSING, How.MEASURED).astype(np.int8)
    for layer in ordered:
        if layer.shape is Shape.SPIKE:
            inside = _inside(t, layer)
            v[inside], how[inside] = np.nan, How.SPIKE
        elif layer.shape is Shape.ESTIMATED:
            t, v, how, source = _estimate(t, v, how, source, layer, step_s)
        elif layer.shape is Shape.NO_RECORD:
            ends = np.array([layer.from_s, layer.to_s], dtype=np.int64)
            t, v, how, source = _insert(t, v, how, source, ends)
            inside = _inside(t, layer)
            v[inside], how[inside] = np.nan, How.NO_RECORD
    return Corrected(t, v, how, source)


def _inside(t: Ints, layer: Layer) -> slice:
    """Return the slice of points inside a period, both ends included."""
    return slice(
        int(np.searchsorted(t, layer.from_s, "left")), int(np.searchsorted(t, layer.to_s, "right"))
    )


_Points = tuple[Ints, Floats, NDArray[np.int8], Ints]


def _insert(t: Ints, v: Floats, how: NDArray[np.int8], source: Ints, at: Ints) -> _Points:
    """Insert missing points at the given times where there is no point yet."""
    new = np.setdiff1d(at, t)
    where = np.searchsorted(t, new)
    return (
        np.insert(t, where, new),
        np.insert(v, where, np.nan),
        np.insert(how, where, np.int8(How.MISSING)),
        np.insert(source, where, -1),
    )


def _estimate(
    t: Ints, v: Floats, how: NDArray[np.int8], source: Ints, layer: Layer, step_s: int
) -> _Points:
    """Mark a period estimated and, when it has amounts, lay the line through it."""
    if np.isfinite(layer.amount):
        grid = np.append(np.arange(layer.from_s, layer.to_s, step_s, dtype=np.int64), layer.to_s)
        t, v, how, source = _insert(t, v, how, source, grid)
        inside = _inside(t, layer)
        v[inside] = _line(t[inside].astype(np.float64), layer)
    inside = _inside(t, layer)
    how[inside] = np.where(np.isnan(v[inside]), how[inside], np.int8(How.ESTIMATED))
    return t, v, how, source
