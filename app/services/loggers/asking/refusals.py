"""What an import is refused for although the file can be read.

The gauge zero is added once only: a file whose heads are worked out over the crest is refused for
a logger whose figures are said to stand as the staff's.
"""

import numpy as np
from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.series.layers import Shape
from app.records.sensors import Logger
from app.services.days.state import approved_months, refuse_if_approved
from app.services.loggers.choose import Choice
from app.services.loggers.overlap import overlap, quantities_of
from app.services.loggers.reader.columns import SCALED
from app.services.loggers.reader.result import LoggerFile
from app.services.series.months import month_of, month_text
from app.services.sites.structures import place

CLOCK_SHAPES = {"linear": Shape.CLOCK_DRIFT, "shift": Shape.CLOCK_SHIFT}
LARGEST_CLOCK_S = 366 * 86_400.0


def allowed(
    session: Session, logger: Logger, file: LoggerFile, clock_fast_s: float, clock_shape: str
) -> None:
    """Refuse an import that would change an approved month; raises BadInput."""
    if clock_shape not in CLOCK_SHAPES:
        raise BadInput("clock_shape", clock_shape, "linear or shift", "Choose one.")
    if not (np.isfinite(clock_fast_s) and abs(clock_fast_s) <= LARGEST_CLOCK_S):
        raise BadInput(
            "clock_fast_s",
            clock_fast_s,
            "a clock error is a number of seconds, a year at most",
            "Give logger time minus true time at the download.",
        )
    if clock_fast_s:
        span = int(file.t_s[0]), int(file.t_s[-1])
        refuse_if_approved(session, logger.structure_id, *span, "shifting its clock")
    approved = approved_months(session, logger.structure_id)
    if not approved:
        return
    site, _ = place(session, logger.structure_id)
    for quantity, value in quantities_of(file, logger.quantity):
        met = overlap(session, logger.structure_id, quantity, file.t_s, value)
        for at in met.new.tolist():
            if month_of(file.t_s[at], site.utc_offset_min) in approved:
                raise BadInput(
                    f"row {int(file.row[at])}, column 1",
                    month_text(month_of(file.t_s[at], site.utc_offset_min)),
                    "is approved and holds no reading at that time",
                    "Open the month again with a reason, then import the file.",
                )


def refuse_double_zero(choice: Choice, reads: str, name: str) -> None:
    """Refuse heads over the crest for figures that stand as the staff's.

    Raises
    ------
    BadInput
        When the gauge zero in force would be added to them a second time.
    """
    if reads == "staff" and choice.suggested_reads == "crest":
        raise BadInput(
            "logger",
            name,
            "its figures are said to stand as the staff gauge's, but this file's heads are worked "
            "out over the crest: the gauge zero would be added twice",
            "Choose a new logger whose figures stand over the crest already.",
        )


def refuse_untold_scale(choice: Choice) -> None:
    """Refuse raw counts whose zero and span nobody gave.

    Raises
    ------
    BadInput
        Naming the column.
    """
    for number, said in (choice.told.get("columns") or {}).items():
        if said.get("unit") != SCALED or said.get("meaning") == "not used":
            continue
        for key, words in (("zero", "the head at raw 0"), ("per_unit", "metres for one raw unit")):
            if key not in said:
                raise BadInput(
                    f"column {number}", "", f"{words} is needed", "Give zero and span of the scale."
                )
