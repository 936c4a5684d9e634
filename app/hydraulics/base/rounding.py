"""Figures in words, written with the same digit by the server and by a phone.

Halves go away from nought, as people round and as a browser's ``toFixed`` does; Python's own format
goes to the even digit, so that 12.25 would read 12.2 at the office and 12.3 on the phone.

    fixed(value, places) -> so many decimals; negative places round to tens and hundreds
    signed(value, places) -> the same with its sign
    general(value, digits=6) -> so many figures, no noughts behind, no power of ten where avoidable
    carried(value) -> the number itself, without the dust that sums of binary numbers leave
"""

import math
from decimal import ROUND_HALF_UP, Context, Decimal


def fixed(value: float, places: int) -> str:
    """Return a number with so many decimals; what rounds to nought has no sign."""
    if not math.isfinite(value):
        return f"{value:.{max(places, 0)}f}"
    step = Decimal(1).scaleb(-places)
    wide = Context(prec=400, rounding=ROUND_HALF_UP)  # no double needs more digits
    return f"{Decimal(value).quantize(step, context=wide) + 0:.{max(places, 0)}f}"


def signed(value: float, places: int) -> str:
    """Return a number with its sign and so many decimals."""
    return ("-" if value < 0 else "+") + fixed(abs(value), places)


def general(value: float, digits: int = 6) -> str:
    """Return a number with so many figures at most: 0.00001, 1234570, 1e-7."""
    if not math.isfinite(value):
        return f"{value:g}"
    cut = Context(prec=digits, rounding=ROUND_HALF_UP).create_decimal(Decimal(value))
    found = Decimal(repr(float(cut))).normalize()
    if found == 0 or 1e-6 <= abs(found) < Decimal("1e21"):
        return f"{abs(found) if found == 0 else found:f}"
    mantissa, _, power = f"{found:e}".partition("e")
    return f"{mantissa}e{int(power):+d}"


MOST_CARRIED = 10
"""Figures that a thing read or levelled can carry; a number that needs more was worked out."""
SUM_DUST = 1e-13
"""Share of a number that sums of binary numbers may leave: some hundred of its last places."""


def carried(value: float) -> float:
    """Return a number with the figures that it carries: 0.1156 less 0.003 is 0.1126.

    A number within `SUM_DUST` of one with `MOST_CARRIED` figures is that one; any other was worked
    out, and stays as it is to the last place. What comes back comes back again as itself.
    """
    if not math.isfinite(value):
        return value
    short = float(f"{value:.{MOST_CARRIED}g}")
    return short if abs(short - value) <= SUM_DUST * abs(value) else value
