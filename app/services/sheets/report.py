"""The report of a site: what is there, its rating and flow, what was proved, what is not known."""

from collections import Counter
from typing import Any

from app.errors import SillbookError
from app.language import words
from app.records.sites import Rating, Structure
from app.services.days.daily import shown, span
from app.services.days.totals import totals
from app.services.fits.card import rated_at
from app.services.install.drawing import pictures
from app.services.ratings.curve import round_heads
from app.services.sheets.drawing import hydrograph
from app.services.sheets.parts import Asked, Grid, Section
from app.services.sheets.proved import corrections, gaugings, levels
from app.services.sheets.unknown import changes, not_known
from app.services.sites.dated import device_of, in_force
from app.services.sites.views import described, ratings_of, trust, zeros_of
from app.services.surveys.photos import photos

MOST_PRINTED_DAYS = 400
"""Days that are printed one by one; a longer period is printed by months."""
CARD_HEADS = 24


def report(asked: Asked) -> list[Section]:
    """Return the sections of the report of a site."""
    sections = [_site(asked)]
    for number, structure in enumerate(asked.structures, 1):
        assert structure.id is not None
        sections += _structure(asked, structure, number)
    return [*sections, changes(asked), not_known(asked)]


def _site(asked: Asked) -> Section:
    site = asked.site
    position = "not given"
    if site.latitude is not None and site.longitude is not None:
        position = f"{site.latitude:.5f}, {site.longitude:.5f} (WGS 84)"
    names = ", ".join(one.name for one in asked.structures) or "no structure yet"
    newest = photos(asked.session, site_id=site.id)[-1:]
    return Section(
        title="What is there",
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
        gaugings(asked, structure),
        levels(asked, structure, zeros),
        corrections(asked, structure),
    ]


def _device(asked: Asked, structure: Structure, ratings: list[Rating], number: int) -> Section:
    rating = in_force(ratings, asked.now)
    out = Section(title=asked.named("Rating", structure), on_new_page=number > 1)
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
        [head, words.discharge(float(q), float(pct)), ", ".join(flags)]
        for head, q, pct, flags in zip(
            heads, rated.discharge_m3s, rated.uncertainty_pct, rated.flags, strict=True
        )
    ]
    out.grids.append(Grid(("Head, mm", "Discharge, free flow, k=2", "Flags"), rows, "Rating table"))
    others = [
        [one.id, asked.local(one.valid_from), described(one), one.reason]
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
        return [Section(title=title, words=["No long record: no logger file has been taken in."])]
    rows = shown(asked.session, structure.id, asked.first, asked.last)
    drawn = hydrograph(rows, structure.name, number)
    months = totals(asked.session, structure.id, asked.first, asked.last)
    flow = Section(title=title, drawings=[drawn] if drawn else [], on_new_page=True)
    if drawn is not None:
        flow.words.append(drawn.description)
    of_months = ("Month", "Volume, k=2", "Measured", "Estimated", "Without record", "State")
    flow.grids.append(Grid(of_months, [_month(row) for row in months], "Totals by month"))
    counted = Counter(row["word"] for row in rows)
    flow.facts.append(("Days", ", ".join(f"{n} {word}" for word, n in counted.most_common())))
    flow.facts.append(("Gaps", _gaps(rows)))
    if len(rows) > MOST_PRINTED_DAYS:
        flow.words.append(
            f"{words.counted(len(rows), 'day')}: by months here, day by day in the list of days."
        )
        return [flow]
    heads = ("Day", "Mean, k=2", "Least, L/s", "Greatest, L/s", "Volume, m³", "Record", "State")
    days = Grid(heads, [_day(row) for row in rows], "Day by day", wide=True)
    return [
        flow,
        Section(title=asked.named("Daily flow", structure), grids=[days], on_new_page=True),
    ]


def _month(row: dict[str, Any]) -> list[str]:
    return [
        row["period"],
        words.volume(row["volume_m3"], row["volume_uncertainty_m3"]),
        words.volume(row["measured_m3"]),
        words.volume(row["estimated_m3"]),
        words.share(row["missing_fraction"]),
        f"out of date: {row['stale']}" if row["stale"] else "follows what is in force",
    ]


def _day(row: dict[str, Any]) -> list[str]:
    stale = ", out of date" if row["stale"] else ""
    mean = row["mean_m3s"]
    return [
        row["day"],
        "" if mean is None else words.discharge(mean, row["mean_uncertainty_pct"]),
        "" if row["low_m3s"] is None else words.litres(row["low_m3s"]).removesuffix(" L/s"),
        "" if row["high_m3s"] is None else words.litres(row["high_m3s"]).removesuffix(" L/s"),
        "" if row["volume_m3"] is None else words.whole_volume(row["volume_m3"])[:-3],
        row["word"],
        f"{row['state']}{stale}",
    ]


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
