"""How far a rating is trusted: what a person may state of any structure, whatever its family.

Up to what multiple of the top head a discharge is given, and whether a tailwater can drown the
structure at all. Both are dimensions of every family, so that forms, the command line, the phone's
tables and the exports carry them, and a dated rating keeps what was stated when.
"""

from app.errors import BadInput
from app.hydraulics.structure.dimension import Dimension, Dims

HEAD_LIMIT = 1.5
"""Times the top head up to which a discharge is given (common practice: 1.2 to 1.5)."""

CORRECTED_TO = 0.95
"""Highest submergence ratio corrected: water-management manual vol. 13/16, drowned equations."""

FROUDE_LIMIT = 0.5
"""Of the approach (ISO 4359; USBR Water Measurement Manual ch. 2, 8: from memory)."""

S_CEILING = 0.985
"""A drowned shape needs log10 S < 0, Parshall's S < 0.9899; above, a ratio is never rated."""

BOUNDS: tuple[Dimension, ...] = (
    Dimension(
        key="cannot_drown",
        label="Cannot drown, because",
        unit="",
        kind="text",
        required=False,
        help="Only where no tailwater can reach the crest, such as a free overfall: say how that "
        "is known. Empty: it can drown, from its modular limit, or from nobody knows where.",
    ),
    Dimension(
        key="head_limit",
        label="Discharge is given up to, times the top head",
        unit="",
        kind="count",
        required=False,
        low=1.0,
        high=10.0,
        help=f"Empty: {HEAD_LIMIT:g} (common practice). More needs a reason.",
    ),
    Dimension(
        key="head_limit_reason",
        label="Why up to there",
        unit="",
        kind="text",
        required=False,
        help="Such as a gauging above the range, with its date.",
    ),
)
KEYS = tuple(dimension.key for dimension in BOUNDS)


def head_limit_m(dims: Dims, top_m: float, cease_to_flow_m: float) -> float:
    """Return the head above which no discharge is given, m: so many times the top head."""
    factor = float(dims.get("head_limit", HEAD_LIMIT))
    return top_m + (factor - 1.0) * (top_m if top_m > 0 else top_m - cease_to_flow_m)


def parted(dims: Dims) -> tuple[Dims, Dims]:
    """Return a family's own dimensions, and what was stated of its bounds.

    Refused are statements that lack their reason or contradict each other.

    Raises
    ------
    BadInput
    """
    factor = float(dims.get("head_limit", HEAD_LIMIT))
    if factor > HEAD_LIMIT and "head_limit_reason" not in dims:
        raise BadInput(
            "head_limit_reason",
            "not given",
            f"a discharge beyond {HEAD_LIMIT:g} times the top head needs a reason",
            "Say what it rests on, or leave the limit empty.",
        )
    if "head_limit_reason" in dims and "head_limit" not in dims:
        raise BadInput(
            "head_limit", "not given", "a reason stands without its limit", "Give both or neither."
        )
    if "cannot_drown" in dims and "modular_limit" in dims:
        raise BadInput(
            "cannot_drown",
            dims["cannot_drown"],
            "stands beside a modular limit: it drowns from there, or it cannot drown",
            "Empty one of the two.",
        )
    own = {key: value for key, value in dims.items() if key not in KEYS}
    return own, {key: value for key, value in dims.items() if key in KEYS}
