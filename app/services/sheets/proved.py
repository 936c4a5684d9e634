"""What proves a rating and holds its zero: check gaugings, levels, corrections of the record."""

from app.language import words
from app.records.sites import GaugeZero, Structure
from app.services.corrections.layers import layers
from app.services.gaugings.results import GaugingResult, gauging_results
from app.services.readings.list import span_of
from app.services.sheets.parts import Asked, Grid, Section
from app.services.surveys.history import level_history


def gauged(asked: Asked, structure: Structure) -> list[GaugingResult]:
    """Return the check gaugings of a structure in the days asked for, oldest first."""
    site = asked.site
    assert site.id is not None
    days = span_of(str(asked.first or ""), str(asked.last or ""), site.utc_offset_min)
    return gauging_results(asked.session, site.id, days.since, days.until, structure.id)


def gaugings(asked: Asked, structure: Structure) -> Section:
    rows = [
        [
            asked.local(one.started_at),
            one.method,
            words.millimetres(one.head_mean_m),
            words.discharge(one.discharge_m3s, one.uncertainty_pct),
            words.discharge(one.rating.discharge_m3s, one.rating.uncertainty_pct),
            words.change(one.deviation_pct),
            one.word,
        ]
        for one in gauged(asked, structure)
    ]
    heads = ("Gauged", "Method", "Head", "Discharge, k=2", "By the rating", "Deviation", "Verdict")
    title = asked.named("Check gaugings", structure)
    if not rows:
        return Section(
            title=title, words=["None in this period: the rating is not proved by any here."]
        )
    return Section(title=title, grids=[Grid(heads, rows, "Check gaugings", wide=True)])


def levels(asked: Asked, structure: Structure, zeros: list[GaugeZero]) -> Section:
    assert structure.id is not None
    assert asked.site.id is not None
    out = Section(title=asked.named("Levels and gauge zero", structure))
    rows = [
        [one.id, asked.local(one.valid_from), words.millimetres(one.offset_m), one.reason]
        for one in zeros
    ]
    if rows:
        out.grids.append(
            Grid(("Zero", "From", "Added to the staff", "Reason"), rows, "Gauge zeros")
        )
    else:
        out.words.append("No gauge zero: what the staff shows is not known over the crest.")
    runs = [
        [
            asked.local(view.entry.observed_at),
            view.by,
            "unknown" if view.run is None else f"{words.signed(view.run.misclosure_mm)} mm",
            "not levelled" if not view.results else words.metres(view.results.crest_rl_m),
            "" if not view.results else view.results.corner_word,
            "; ".join(view.words),
        ]
        for view in level_history(asked.session, structure.id, asked.site.id).runs
        if asked.within(view.entry.observed_at)
    ]
    if runs:
        levelled = ("Levelled", "By", "Misclosure", "Crest", "Corners", "Remarks")
        out.grids.append(Grid(levelled, runs, "Level runs", wide=True))
    else:
        out.words.append("No level run in this period.")
    return out


def corrections(asked: Asked, structure: Structure) -> Section:
    assert structure.id is not None
    rows = [
        [
            asked.local(one.from_at),
            asked.local(one.to_at),
            one.shape,
            one.amount_words,
            one.reason,
            f"taken back: {one.withdraw_reason}" if one.withdrawn_at else one.by,
        ]
        for one in layers(asked.session, structure.id, with_withdrawn=True)
        if asked.within(one.from_at) or asked.within(one.to_at)
    ]
    title = asked.named("Corrections of the record", structure)
    if not rows:
        return Section(title=title, words=["None in this period."])
    heads = ("From", "To", "Shape", "What it does", "Reason", "By")
    return Section(title=title, grids=[Grid(heads, rows, "Corrections", wide=True)])
