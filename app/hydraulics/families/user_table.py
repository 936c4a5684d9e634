"""A table of heads and discharges that a person brings along.

Between rows lines are straight in ln(h - e) and ln Q, which is exact for power laws (plain linear
interpolation always reads high between rows of a convex curve).
"""

import re

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.families.user_rating import LIMITS_TEXT, OWN, SHARED, UserRating, numbers
from app.hydraulics.structure.device import Dimension, Dims, Family, Provenance, Source, range_flags
from app.hydraulics.structure.states import FreeFlow


class UserTable(UserRating):
    """A table of heads and discharges, read along straight lines in ln(h - e) and ln Q."""

    def __init__(self, family: Family, dims: Dims) -> None:
        heads, flows = _rows(str(dims["table"]))
        if flows[0] == 0:  # a zero row states where flow ceases
            e = heads[0]
            heads, flows = heads[1:], flows[1:]
        else:
            e = 0.0
        e = float(dims.get("cease_to_flow", e))
        if not e < heads[0]:
            raise BadInput(
                "cease_to_flow",
                e,
                f"must lie below the first head with flow, {heads[0]:g} m",
                "Lower it, or take rows without flow out of the table.",
            )
        super().__init__(family, dims, float(heads[0]), float(heads[-1]))
        self.cease_to_flow_m = e
        self.breaks_m = tuple(float(h) for h in heads[1:-1])
        self._x, self._y = np.log(heads - e), np.log(flows)
        self._slopes = np.diff(self._y) / np.diff(self._x)

    def free_flow(self, head_m: Floats) -> FreeFlow:
        """Return interpolated discharge; beyond the rows the nearest line goes on."""
        head = np.asarray(head_m, float)
        over = head - self.cease_to_flow_m
        x = np.log(np.maximum(over, 1e-9))
        y = np.interp(x, self._x, self._y)
        y = y + self._slopes[0] * np.minimum(x - self._x[0], 0.0)
        y = y + self._slopes[-1] * np.maximum(x - self._x[-1], 0.0)
        flow = np.exp(np.minimum(y, 600.0))  # absurd heads must not overflow
        flow[over <= 0] = 0.0
        return FreeFlow(flow, range_flags(self, head))

    def log_slope(self, head_m: Floats) -> Floats:
        """Return the slope of the line between rows over (h - e), 1/m."""
        over = np.maximum(head_m - self.cease_to_flow_m, 1e-6)
        row = np.searchsorted(self._x, np.log(over), side="right") - 1
        slope: Floats = self._slopes[np.clip(row, 0, len(self._slopes) - 1)] / over
        return slope

    def exponent(self, head_m: Floats) -> Floats:
        """Return the slope of ln Q against ln h."""
        slope: Floats = self.log_slope(head_m) * head_m
        return slope

    def describe(self) -> str:
        """Return the kind of rating and how far it goes."""
        return f"Own rating table, {self.head_min_m:g} to {self.head_max_m:g} m"


def _rows(text: str) -> tuple[Floats, Floats]:
    pieces = [piece for piece in re.split(r"[,;\n]", text) if piece.strip()]
    rows = np.array([numbers("table", piece, 2, "head:discharge") for piece in pieces])
    flowing = 0 if rows.size == 0 else int(np.count_nonzero(rows[:, 1] > 0))
    if flowing < 2:
        raise BadInput("table", text, "needs at least two rows with flow", "Add rows h:q.")
    heads, flows = rows[:, 0], rows[:, 1]
    if np.any(np.diff(heads) <= 0) or np.any(np.diff(flows) <= 0) or flows[0] < 0:
        raise BadInput(
            "table", text, "heads and discharges must both rise from row to row", "Sort or correct."
        )
    return heads, flows


FAMILY = Family(
    key="user_table",
    name="own rating table",
    summary="Heads and discharges, log-log between rows.",
    dimensions=(
        Dimension(
            key="table",
            label="Table",
            unit="",
            kind="text",
            help='head:discharge pairs in metres and m3/s: "0.05:0.0072, 0.1:0.0208".',
            aliases=("rows",),
        ),
        Dimension(
            key="cease_to_flow",
            label="Cease-to-flow head",
            required=False,
            low=-10.0,
            high=10.0,
            help="Head at which flow stops; a row with discharge 0 states it too.",
            aliases=("e", "cease_to_flow_m"),
        ),
        *SHARED,
    ),
    sources=(
        OWN,
        Source("Interpolation straight in ln(h - e) and ln Q", Provenance.DERIVED),
    ),
    limits_text=LIMITS_TEXT,
    tested_tolerance_pct=0.01,
    tested_table=Provenance.DERIVED,
    can_drown=True,
    correction=False,
    make=UserTable,
    example={"table": "0.05:0.0072, 0.1:0.0208, 0.2:0.0596, 0.4:0.1711", "modular_limit": 0.7},
)
