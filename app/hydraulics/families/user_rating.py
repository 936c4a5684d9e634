"""What ratings that a person brings along share: a stated uncertainty, maybe a modular limit."""

import re

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.structure.device import Device, Dimension, Dims, Family, Provenance, Source


class UserRating(Device):
    """What both kinds share: an optional modular limit and a stated uncertainty."""

    def __init__(self, family: Family, dims: Dims, head_min_m: float, head_max_m: float) -> None:
        super().__init__(family, dims, head_min_m, head_max_m)
        self.device_pct = float(dims["rating_pct"])

    @property
    def limit_known(self) -> bool:
        """True when a modular limit was given with the rating."""
        return "modular_limit" in self.dims

    def modular_limit(self, head_m: Floats) -> Floats:
        """Return the limit given with the rating; NaN where none was given."""
        return np.full(np.shape(head_m), float(self.dims.get("modular_limit", np.nan)))


def numbers(field: str, text: str, count: int, shape: str) -> list[float]:
    """Return the numbers of an entry, refusing one of another shape.

    Raises
    ------
    BadInput
    """
    words = [word for word in re.split(r"[,:\s]+", text.strip()) if word]
    try:
        values = [float(word) for word in words]
    except ValueError:
        values = []
    if len(values) != count or not np.all(np.isfinite(values)):
        raise BadInput(
            field, text.strip(), f"each entry must read {shape}", "Use a point for decimals."
        )
    return values


SHARED = (
    Dimension(
        key="modular_limit",
        label="Modular limit",
        unit="",
        kind="count",
        required=False,
        low=0.0,
        high=0.99,
        help="It can drown, from this submergence on. Empty: unknown, and with a tailwater above "
        "half the head no discharge is given.",
        aliases=("St", "ML"),
    ),
    Dimension(
        key="rating_pct",
        label="Uncertainty of the rating",
        unit="%",
        kind="count",
        required=False,
        default=5.0,
        low=0.1,
        high=50.0,
        help="Expanded (k = 2), from the gaugings behind it; 5 % when nothing is known.",
        aliases=("uncertainty_pct", "device_pct"),
    ),
)
OWN = Source("The user's own rating; its gaugings are its evidence", Provenance.PRACTICE)
LIMITS_TEXT = "The heads the rating covers; the same control as when it was made. No correction."
