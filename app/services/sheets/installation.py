"""The installation file of each structure: plan, hold points, levels, as built, opening, photos."""

from app.language import words
from app.records.sites import Structure
from app.services.install.hold_points import CAUTIONS
from app.services.install.sheet import sheet, signed
from app.services.install.stops import stops
from app.services.plans.make import PlanView, plans
from app.services.sheets.parts import Asked, Grid, Section
from app.services.surveys.photos import photos

MOST_PHOTOS = 24
"""Pictures of one structure that are printed; the rest are counted."""


def installation(asked: Asked) -> list[Section]:
    """Return the sections of the installation file."""
    sections = [_plans(asked)]
    for number, structure in enumerate(asked.structures, 1):
        sections += _of(asked, structure, on_new_page=number > 1)
    sections.append(Section(title="Cautions", words=list(CAUTIONS.values())))
    return sections


def _plans(asked: Asked) -> Section:
    assert asked.site.id is not None
    rows = [
        [asked.local(view.plan.created_at), view.plan.name, view.by, _came(view)]
        for view in plans(asked.session, asked.site.id)
    ]
    if not rows:
        return Section(title="Plans", words=["No plan is on record."])
    return Section(
        title="Plans", grids=[Grid(("Made", "Plan", "By", "What came of it"), rows, "Plans")]
    )


def _came(view: PlanView) -> str:
    """Return how many structures were tried, and which was chosen."""
    tried = words.counted(len(view.candidates), "candidate")
    if view.chosen is None or view.chosen >= len(view.candidates):
        return f"{tried}, none chosen"
    return f"{tried}, chosen: {view.candidates[view.chosen].get('described', view.chosen)}"


def _of(asked: Asked, structure: Structure, *, on_new_page: bool) -> list[Section]:
    session = asked.session
    assert structure.id is not None
    found = sheet(session, structure.id)
    first = Section(title=asked.named("Installed", structure), on_new_page=on_new_page)
    sections = [first, *(Section(title=part.title, facts=list(part.rows)) for part in found.parts)]
    for title, lines in (("Outside", found.outside), ("Not known", found.unknown)):
        if lines:
            sections.append(Section(title=title, words=list(lines)))
    rows = [
        [
            asked.local(view.entry.observed_at),
            view.stop.title,
            view.word if view.corrected_by is None else f"{view.word}, corrected since",
            "; ".join(text for _, text in view.reasons),
            view.by,
        ]
        for view in stops(session, structure.id)
    ]
    heads = ("When", "Hold point", "Word", "Why", "By")
    if rows:
        first.grids.append(Grid(heads, rows, "Hold points", wide=True))
    else:
        first.words.append("No hold point was recorded while it was set.")
    for one in signed(session, structure.id):
        first.facts.append(
            (f"Signed {asked.local(one.row.signed_at)}", f"{one.row.signed_name}: {one.row.words}")
        )
    shown = [one for one in photos(session, structure_id=structure.id) if one.here]
    pictures = Section(title=asked.named("Photos", structure), photos=shown[:MOST_PHOTOS])
    if not shown:
        pictures.words.append("None on record.")
    elif len(shown) > MOST_PHOTOS:
        left = len(shown) - MOST_PHOTOS
        pictures.words.append(f"{words.counted(left, 'photo')} more in the office.")
    return [*sections, pictures]
