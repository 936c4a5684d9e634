"""The types of arrays: figures, whole numbers, yes or no; and what is done to all of one."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from app.hydraulics.base.rounding import MOST_CARRIED, SUM_DUST, carried

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def apart(difference_m: Any) -> Any:
    """Return differences of levels to the nanometre: 100.001 less 100 is 0.001, not 0.00099999….

    What is left of two long levels has lost their places; nobody levels finer than 0.01 mm.
    """
    return np.round(difference_m, 9) + 0.0


def figure_texts(values: Floats) -> list[str]:
    """Return numbers with the figures they carry, as text; empty where one is not known.

    The text of each is that of `carried`. Only a number that lies near one of few figures is asked
    about; with one figure more than is carried, and twice the dust, no such number is passed over.
    """
    texts = [repr(value) for value in values.tolist()]
    with np.errstate(all="ignore"):
        scale = 10.0 ** (MOST_CARRIED - np.floor(np.log10(np.abs(values))))
        scaled = values * scale
        near = np.abs(scaled - np.rint(scaled)) <= 2.0 * SUM_DUST * np.abs(scaled)
        near |= ~(np.abs(values) > 1e-250) | ~(np.abs(values) < 1e250)  # beyond what scales
    for k in np.flatnonzero(near).tolist():
        if len(texts[k]) > MOST_CARRIED:  # a shorter text has no more figures than are carried
            texts[k] = repr(carried(float(values[k])))
    for k in np.flatnonzero(np.isnan(values)).tolist():
        texts[k] = ""
    return texts
