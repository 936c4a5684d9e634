"""What drawn discharges say of the linear budget: twice their standard deviation, %."""

import numpy as np
from numpy.typing import ArrayLike


def monte_carlo_pct(ratio: ArrayLike) -> float:
    """Return the expanded relative uncertainty of drawn discharges, any shape."""
    drawn = np.asarray(ratio, float)
    return float(200.0 * np.std(drawn) / np.mean(drawn))
