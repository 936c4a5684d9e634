"""What Today says of visits that are due and of instruments that are not in date.

Neither is judged here: `visits.due_list` says what is due, `equipment.tables` what is in date.
"""

from collections.abc import Sequence
from urllib.parse import urlencode

from app.services.equipment import fitness
from app.services.equipment.tables import RegisterLine, register
from app.services.today.lines import (
    PRESSING,
    SOON,
    THINGS_NAMED,
    WHEN_THERE_IS_TIME,
    Line,
    Look,
    Thing,
    counted,
)
from app.services.visits import due
from app.services.visits.due_list import DueLine, due_list

# State of a site: how pressing it is, and its words for one and for many.
VISITS = {
    due.OVERDUE: (PRESSING, "visit is overdue", "visits are overdue"),
    due.TODAY: (PRESSING, "visit is due today", "visits are due today"),
    due.SOON_WORD: (SOON, "visit is due within a week", "visits are due within a week"),
    due.NO_INTERVAL: (
        WHEN_THERE_IS_TIME,
        "site has no plan of visits",
        "sites have no plan of visits",
    ),
}
# State of an instrument in use. Of one without a calibration nobody can say that it is fit.
INSTRUMENTS = {
    fitness.NOT_FIT: (PRESSING, "instrument is not fit for use", "instruments are not fit for use"),
    fitness.OVERDUE: (
        PRESSING,
        "instrument is overdue for calibration",
        "instruments are overdue for calibration",
    ),
    fitness.UNKNOWN: (
        WHEN_THERE_IS_TIME,
        "instrument has no calibration that counts",
        "instruments have no calibration that counts",
    ),
}


def of_rounds(look: Look) -> list[Line]:
    """Give a line for each state of visits, then of instruments in use, that needs a person."""
    sites, held = due_list(look.session, look.now), register(look.session, look.now.date())
    in_use = [one for one in held if not one.of.gone]
    return [
        *(
            line
            for state in VISITS
            for line in _of_visits(state, [x for x in sites if x.due.state == state])
        ),
        *(
            line
            for state in INSTRUMENTS
            for line in _of_instruments(state, [x for x in in_use if x.state.word == state])
        ),
    ]


def _of_visits(state: str, found: Sequence[DueLine]) -> list[Line]:
    if not found:
        return []
    urgency, one, many = VISITS[state]
    return [
        Line(
            key=f"visits: {state}",
            urgency=urgency,
            count=len(found),
            title=counted(len(found), one, many),
            address=f"/visits?{urlencode({'state': state})}",
            things=tuple(
                Thing(words=_said(x), address=f"/sites/{x.site.id}/visits")
                for x in found[:THINGS_NAMED]
            ),
        )
    ]


def _said(line: DueLine) -> str:
    who = f", {line.person}" if line.person else ""
    return f"{line.site.code}: {line.due.words}{who}"


def _of_instruments(state: str, found: Sequence[RegisterLine]) -> list[Line]:
    if not found:
        return []
    urgency, one, many = INSTRUMENTS[state]
    return [
        Line(
            key=f"instruments: {state}",
            urgency=urgency,
            count=len(found),
            title=counted(len(found), one, many),
            address=f"/equipment?{urlencode({'state': state, 'in_use': 'yes'})}",
            things=tuple(
                Thing(words=f"{x.of.name}: {x.state.words}", address=f"/equipment/{x.of.id}")
                for x in found[:THINGS_NAMED]
            ),
        )
    ]
