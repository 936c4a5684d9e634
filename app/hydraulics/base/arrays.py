"""The types of arrays: figures, whole numbers, and yes or no."""

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


def apart(difference_m: Any) -> Any:
    """Return differences of levels to the nanometre: 100.001 less 100 is 0.001, not 0.00099999….

    What is left of two long levels has lost their places; nobody levels finer than 0.01 mm.
    """
    return np.round(difference_m, 9) + 0.0
