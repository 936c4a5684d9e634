"""What a computation hands back: a frozen record that can say itself as plain JSON values."""

import math
from dataclasses import fields

import numpy as np

from app.hydraulics.base.rounding import carried


class Result:
    """Base of the frozen dataclasses returned by the survey and gauging sums."""

    def as_dict(self) -> dict[str, object]:
        """Return the fields as JSON values; a missing number (NaN) becomes null."""
        return {
            field.name: plain(getattr(self, field.name))
            for field in fields(self)  # type: ignore[arg-type]
        }


def plain(value: object) -> object:
    """Turn arrays, numpy scalars, tuples and nested results into JSON values."""
    if isinstance(value, Result):
        return value.as_dict()
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return plain(value.tolist())
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, np.generic):
        return plain(value.item())
    if isinstance(value, float):
        return carried(value) if math.isfinite(value) else None
    return value
