"""What changed in a period, and what is not known: so that silence is not taken for a yes."""

from sqlmodel import Session

from app.language import words
from app.records.sites import Structure
from app.services.days import staleness
from app.services.days.daily import span
from app.services.review import trail
from app.services.review.sentences import sentence
from app.services.sheets.parts import Asked, Grid, Section
from app.services.sheets.proved import gauged
from app.services.sites.dated import in_force
from app.services.sites.views import ratings_of, trust, zeros_of

MOST_CHANGES = trail.MOST


def changes(asked: Asked) -> Section:
    lines = trail.audit(asked.session, site_id=asked.site.id, limit=MOST_CHANGES)
    offset = asked.site.utc_offset_min
    rows = [
        [asked.local(line.at), sentence(line, offset), line.reason]
        for line in reversed(lines)
        if asked.within(line.at)
    ]
    if not rows:
        return Section(title="Changes", words=["None in this period."])
    out = Section(title="Changes", grids=[Grid(("When", "What", "Reason"), rows, "Changes")])
    if len(lines) == MOST_CHANGES:
        out.words.append(f"The newest {MOST_CHANGES} of the site; older ones stand in its trail.")
    return out


def not_known(asked: Asked) -> Section:
    """Say what the report does not know, so that nobody takes its silence for a yes."""
    assert asked.site.id is not None
    said = []
    stale = staleness.of_site(asked.session, asked.site.id)
    if stale:
        said.append(
            f"Out of date: {stale.count_words or 'approved months'}: {'; '.join(stale.why)}."
        )
    for structure in asked.structures:
        said += [f"{structure.name}: {one}" for one in _lacking(asked.session, asked, structure)]
    if not asked.structures:
        said.append("No structure is on record.")
    said.append("What no reading, gauging, level run or logger file tells is not in this report.")
    said.append("It says what was measured and how; it certifies nothing.")
    return Section(title="What is not known", words=said)


def _lacking(session: Session, asked: Asked, structure: Structure) -> list[str]:
    assert structure.id is not None
    found = []
    rating = in_force(ratings_of(session, [structure.id]), asked.now)
    zero = in_force(zeros_of(session, [structure.id]), asked.now)
    if rating is None:
        found.append("no rating in force.")
    elif trust(rating).get("can_drown") and not structure.tailwater_gauge:
        found.append("it can drown and has no tail staff: unless seen, free flow is assumed.")
    if zero is None:
        found.append("no gauge zero in force.")
    else:
        age = words.age((asked.now - zero.valid_from).total_seconds())
        found.append(f"the gauge zero in force is of {age} ago; none is known since.")
    proved = [one for one in gauged(asked, structure) if one.word == "agrees"]
    if not proved:
        found.append("no check gauging of this period agrees with the rating.")
    if span(session, structure.id) is None:
        found.append("no long record: no logger file was taken in.")
    return found
