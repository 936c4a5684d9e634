"""The report of a site: what is there, its rating and flow, what was proved, what is not known."""

from collections import Counter
from typing import Any

from sqlmodel import Session

from app.errors import SillbookError
from app.language import words
from app.records.sites import Rating, Structure
from app.services.corrections.layers import layers
from app.services.days import staleness
from app.services.days.daily import shown, span
from app.services.days.totals import totals
from app.services.fits.card import rated_at
from app.services.gaugings.results import GaugingResult, gauging_results
from app.services.install.drawing import pictures
from app.services.ratings.curve import round_heads
from app.services.readings.list import span_of
from app.services.review import trail
from app.services.review.sentences import sentence
from app.services.sheets.drawing import hydrograph
from app.services.sheets.parts import NOTHING, Asked, Grid, Section, cells
from app.services.sites.dated import device_of, in_force
from app.services.sites.views import described, ratings_of, trust, zeros_of
from app.services.surveys.history import level_history
from app.services.surveys.photos import photos

MOST_DAYS = 400
"""Days that are printed one by one; a longer period is printed by months."""
CARD_HEADS = 24
MOST_CHANGES = trail.MOST


def report(asked: Asked) -> list[Section]:
    """Return the sections of the report of a site."""
    sections = [_site(asked)]
    for number, structure in enumerate(asked.structures, 1):
        assert structure.id is not None
        sections += _structure(asked, structure, number)
    return [*sections, _changes(asked), _not_known(asked)]


def _site(asked: Asked) -> Section:
    site = asked.site
    position = "not given"
    if site.latitude is not None and site.longitude is not None:
        position = f"{site.latitude:.5f}, {site.longitude:.5f} (WGS 84)"
    names = ", ".join(one.name for one in asked.structures) or "no structure yet"
    newest = photos(asked.session, site_id=site.id)[-1:]
    return Section(
        "What is there",
        facts=[
            ("Site", f"{site.name}, code {site.code}"),
            ("Position", position),
            ("Time", words.offset_words(site.utc_offset_min)),
            ("Structures", names),
            ("Hazards", site.hazards or "none noted"),
            ("Notes", site.notes or "none"),
        ],
        photos=[one for one in newest if one.here],
    )


def _structure(asked: Asked, structure: Structure, number: int) -> list[Section]:
    session = asked.session
    assert structure.id is not None
    ratings, zeros = ratings_of(session, [structure.id]), zeros_of(session, [structure.id])
    return [
        _device(asked, structure, ratings, number),
        *_flow(asked, structure, number),
        _gaugings(asked, structure),
        _levels(asked, structure, zeros),
        _corrections(asked, structure),
    ]


def _device(asked: Asked, structure: Structure, ratings: list[Rating], number: int) -> Section:
    rating = in_force(ratings, asked.now)
    out = Section(asked.named("Rating", structure), on_new_page=number > 1)
    if rating is None:
        out.words.append("No rating is in force: no discharge can be given.")
        return out
    told = trust(rating)
    out.facts += [
        ("Structure", described(rating)),
        ("Rating", f"{rating.id}, in force from {asked.local(rating.valid_from)}"),
        ("Reason", rating.reason or "none given"),
        ("Free and drowned", told["drowning"] or "not determined"),
        ("Given to", told["limit_words"] or "unknown"),
    ]
    try:
        device = device_of(rating)
    except SillbookError as error:
        out.words.append(f"It cannot be worked out any more: {error}")
        return out
    out.drawings += pictures(rating.family, rating.dims, 10 * number)
    heads = [round(1000 * h) for h in round_heads(device.head_min_m, device.head_max_m, CARD_HEADS)]
    rated = rated_at(device, structure, heads)
    rows = [
        cells(head, words.discharge(float(q), float(pct)), ", ".join(flags))
        for head, q, pct, flags in zip(
            heads, rated.discharge_m3s, rated.uncertainty_pct, rated.flags, strict=True
        )
    ]
    out.grids.append(Grid(("Head, mm", "Discharge, free flow, k=2", "Flags"), rows, "Rating table"))
    others = [
        cells(one.id, asked.local(one.valid_from), described(one), one.reason)
        for one in ratings
        if one.id != rating.id
    ]
    if others:
        out.grids.append(Grid(("Rating", "From", "Of", "Reason"), others, "Other ratings"))
    out.words += [f"Source: {source.text} ({source.provenance})." for source in device.sources]
    return out


def _flow(asked: Asked, structure: Structure, number: int) -> list[Section]:
    assert structure.id is not None
    title = asked.named("Flow", structure)
    if span(asked.session, structure.id) is None:
        return [Section(title, words=["No long record: no logger file has been taken in."])]
    rows = shown(asked.session, structure.id, asked.first, asked.last)
    drawn = hydrograph(rows, structure.name, number)
    months = totals(asked.session, structure.id, asked.first, asked.last)
    flow = Section(title, drawings=[drawn] if drawn else [], on_new_page=True)
    if drawn is not None:
        flow.words.append(drawn.description)
    of_months = ("Month", "Volume, k=2", "Measured", "Estimated", "Without record", "State")
    flow.grids.append(Grid(of_months, [_month(row) for row in months], "Totals by month"))
    counted = Counter(row["word"] for row in rows)
    flow.facts.append(("Days", ", ".join(f"{n} {word}" for word, n in counted.most_common())))
    flow.facts.append(("Gaps", _gaps(rows)))
    if len(rows) > MOST_DAYS:
        flow.words.append(f"{len(rows)} days: by months here, day by day in the list of days.")
        return [flow]
    heads = ("Day", "Mean, k=2", "Least, L/s", "Greatest, L/s", "Volume, m³", "Record", "State")
    days = Grid(heads, [_day(row) for row in rows], "Day by day", wide=True)
    return [flow, Section(asked.named("Daily flow", structure), grids=[days], on_new_page=True)]


def _month(row: dict[str, Any]) -> list[str]:
    return cells(
        row["period"],
        words.volume(row["volume_m3"], row["volume_uncertainty_m3"]),
        words.volume(row["measured_m3"]),
        words.volume(row["estimated_m3"]),
        words.share(row["missing_fraction"]),
        f"out of date: {row['stale']}" if row["stale"] else "follows what is in force",
    )


def _day(row: dict[str, Any]) -> list[str]:
    stale = ", out of date" if row["stale"] else ""
    mean = row["mean_m3s"]
    return cells(
        row["day"],
        "" if mean is None else words.discharge(mean, row["mean_uncertainty_pct"]),
        "" if row["low_m3s"] is None else words.litres(row["low_m3s"]).removesuffix(" L/s"),
        "" if row["high_m3s"] is None else words.litres(row["high_m3s"]).removesuffix(" L/s"),
        "" if row["volume_m3"] is None else words.whole_volume(row["volume_m3"])[:-3],
        row["word"],
        f"{row['state']}{stale}",
    )


def _gaps(rows: list[dict[str, Any]]) -> str:
    """Return the stretches of days without any record, in words."""
    found: list[tuple[Any, Any]] = []
    before = None
    for row in rows:
        if row["word"] == "missing":
            if before is not None and (row["day"] - before).days == 1:
                found[-1] = (found[-1][0], row["day"])
            else:
                found.append((row["day"], row["day"]))
            before = row["day"]
    said = [str(a) if a == b else f"{a} to {b}" for a, b in found]
    left = f" and {len(said) - 12} more" if len(said) > 12 else ""
    return "; ".join(said[:12]) + left if said else "no whole day is missing"


def gauged(asked: Asked, structure: Structure) -> list[GaugingResult]:
    """Return the check gaugings of a structure in the days asked for, oldest first."""
    site = asked.site
    assert site.id is not None
    days = span_of(str(asked.first or ""), str(asked.last or ""), site.utc_offset_min)
    return gauging_results(asked.session, site.id, days.since, days.until, structure.id)


def _gaugings(asked: Asked, structure: Structure) -> Section:
    rows = [
        cells(
            asked.local(one.started_at),
            one.method,
            words.millimetres(one.head_mean_m),
            words.discharge(one.discharge_m3s, one.uncertainty_pct),
            words.discharge(one.rating.discharge_m3s, one.rating.uncertainty_pct),
            words.change(one.deviation_pct),
            one.word,
        )
        for one in gauged(asked, structure)
    ]
    heads = ("Gauged", "Method", "Head", "Discharge, k=2", "By the rating", "Deviation", "Verdict")
    title = asked.named("Check gaugings", structure)
    if not rows:
        return Section(title, words=["None in this period: the rating is not proved by any here."])
    return Section(title, grids=[Grid(heads, rows, "Check gaugings", wide=True)])


def _levels(asked: Asked, structure: Structure, zeros: list[Any]) -> Section:
    assert structure.id is not None
    assert asked.site.id is not None
    out = Section(asked.named("Levels and gauge zero", structure))
    rows = [
        cells(one.id, asked.local(one.valid_from), words.millimetres(one.offset_m), one.reason)
        for one in zeros
    ]
    if rows:
        out.grids.append(
            Grid(("Zero", "From", "Added to the staff", "Reason"), rows, "Gauge zeros")
        )
    else:
        out.words.append("No gauge zero: what the staff shows is not known over the crest.")
    runs = [
        cells(
            asked.local(view.entry.observed_at),
            view.by,
            "unknown" if view.run is None else f"{words.signed(view.run.misclosure_mm)} mm",
            "not levelled" if not view.results else words.metres(view.results.crest_rl_m),
            "" if not view.results else view.results.corner_word,
            "; ".join(view.words),
        )
        for view in level_history(asked.session, structure.id, asked.site.id).runs
        if asked.within(view.entry.observed_at)
    ]
    if runs:
        levelled = ("Levelled", "By", "Misclosure", "Crest", "Corners", "Remarks")
        out.grids.append(Grid(levelled, runs, "Level runs", wide=True))
    else:
        out.words.append("No level run in this period.")
    return out


def _corrections(asked: Asked, structure: Structure) -> Section:
    assert structure.id is not None
    rows = [
        cells(
            asked.local(one.from_at),
            asked.local(one.to_at),
            one.shape,
            one.amount_words,
            one.reason,
            f"taken back: {one.withdraw_reason}" if one.withdrawn_at else one.by,
        )
        for one in layers(asked.session, structure.id, with_withdrawn=True)
        if asked.within(one.from_at) or asked.within(one.to_at)
    ]
    title = asked.named("Corrections of the record", structure)
    if not rows:
        return Section(title, words=["None in this period."])
    heads = ("From", "To", "Shape", "What it does", "Reason", "By")
    return Section(title, grids=[Grid(heads, rows, "Corrections", wide=True)])


def _changes(asked: Asked) -> Section:
    lines = trail.audit(asked.session, site_id=asked.site.id, limit=MOST_CHANGES)
    offset = asked.site.utc_offset_min
    rows = [
        cells(asked.local(line.at), sentence(line, offset), line.reason)
        for line in reversed(lines)
        if asked.within(line.at)
    ]
    if not rows:
        return Section("Changes", words=["None in this period."])
    out = Section("Changes", grids=[Grid(("When", "What", "Reason"), rows, "Changes")])
    if len(lines) == MOST_CHANGES:
        out.words.append(f"The newest {MOST_CHANGES} of the site; older ones stand in its trail.")
    return out


def _not_known(asked: Asked) -> Section:
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
    return Section("What is not known", words=said)


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
        found.append(f"long record: {NOTHING}.")
    return found
