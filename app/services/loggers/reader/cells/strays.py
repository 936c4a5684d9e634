"""Marker numbers of failed readings that stand only in rows the sample did not hold."""

import numpy as np

from app.hydraulics.base.arrays import Floats
from app.services.loggers.reader.cells.numbers import HUGE, LIKELY_MARKERS, is_far


class Strays:
    """The usual marker numbers met while a whole column is read, and the span of the others."""

    def __init__(self) -> None:
        self._found: dict[float, list[int]] = {}
        self._low, self._high, self._count = np.inf, -np.inf, 0

    def add(self, figures: Floats) -> None:
        """Look at the next readings of the column, shape (n,)."""
        odd = np.isin(figures, LIKELY_MARKERS) | (np.abs(figures) >= HUGE)
        for i in np.flatnonzero(odd).tolist():
            self._found.setdefault(float(figures[i]), []).append(self._count + i)
        rest = figures[~odd & np.isfinite(figures)]
        if rest.size:
            self._low = min(self._low, float(rest.min()))
            self._high = max(self._high, float(rest.max()))
        self._count += figures.size

    def markers(self) -> dict[float, list[int]]:
        """Return the markers that stand far from every other reading, with their places."""
        if self._low > self._high:
            return {}
        return {m: at for m, at in self._found.items() if is_far(m, self._low, self._high)}
