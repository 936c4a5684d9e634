"""How a rating stands against its check gaugings: deviations, tests in plain words, seasons.

Every gauging of the range is judged by one rating, the one looked at, at its own mean head and
tailwater. What a gauging cannot testify to is said beside it and it stays out of the tests.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta, timezone

from sqlmodel import Session

from app.errors import BadInput
from app.hydraulics.rating.tests import (
    BiasTest,
    DriftTest,
    RunTest,
    SeasonMean,
    SignTest,
    bias_test,
    by_season,
    drift_test,
    run_test,
    sign_test,
)
from app.records.sites import Rating, Site, Structure
from app.services.gaugings.heads import RatingAtHead
from app.services.gaugings.results import GaugingResult, gauging_results, judged, rate_all
from app.services.ratings.curve import device_or_none
from app.services.readings.list import Span, span_of
from app.services.sites.dated import in_force
from app.services.sites.structures import place
from app.services.sites.views import ratings_of

FEW = 5
"""Gaugings under which the tests say little (common practice)."""
SHIFT_PCT = 5.0
"""Deviation that, met again and again on one side, is a shift rather than another equation
(common practice)."""
SEASONS = {
    12: ("December to February", "summer", "winter"),
    3: ("March to May", "autumn", "spring"),
    6: ("June to August", "winter", "summer"),
    9: ("September to November", "spring", "autumn"),
}
"""Quarters by their first month, named for the south and the north of the equator."""


@dataclass(frozen=True)
class Point:
    """One gauging judged by the rating looked at; `why_not` keeps it out of the tests."""

    one: GaugingResult
    season: str
    season_year: str
    why_not: str

    @property
    def counted(self) -> bool:
        return not self.why_not

    @property
    def spread_pct(self) -> float | None:
        """Return the gauging's own uncertainty as a part of the rated discharge, %."""
        gauged, rated = self.one.discharge_m3s, self.one.rating.discharge_m3s
        if gauged is None or rated is None or self.one.uncertainty_pct is None:
            return None
        return self.one.uncertainty_pct * gauged / rated


@dataclass(frozen=True, kw_only=True)
class Evidence:
    """What the deviations say together."""

    bias: BiasTest
    signs: SignTest
    runs: RunTest
    runs_about_mean: bool
    drift: DriftTest
    seasons: list[SeasonMean]
    season_years: list[tuple[str, str, SeasonMean]]


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A rating and all that testifies to it, oldest first."""

    site: Site
    structure: Structure
    ratings: list[Rating]  # newest in force first
    rating: Rating | None
    until: datetime | None
    every: bool
    span: Span
    points: list[Point]
    elsewhere: int  # gaugings of the range made under other ratings, when these are left out
    tests: Evidence | None

    @property
    def counted(self) -> list[Point]:
        return [point for point in self.points if point.counted]

    @property
    def query(self) -> str:
        """Return the view as the query of an address."""
        parts = [self.span.query] if self.span.query else []
        if self.rating is not None:
            parts.append(f"rating={self.rating.id}")
        if self.every:
            parts.append("every=yes")
        return "&".join(parts)


def standing(
    session: Session,
    structure_id: int,
    now: datetime,
    *,
    rating_id: int | None = None,
    every: bool = False,
    first: str = "",
    last: str = "",
) -> Standing:
    """Return how a rating of a structure stands; the one in force now unless one is named.

    Parameters
    ----------
    every : bool
        Also judge gaugings made while other ratings were in force.
    first, last : str
        Days of the site as typed; empty is open.

    Raises
    ------
    BadInput
        For a day that is none, or a rating of another structure.
    """
    site, structure = place(session, structure_id)
    span = span_of(first, last, site.utc_offset_min)
    ratings = ratings_of(session, [structure_id])
    rating = choose(ratings, rating_id, now)
    assert site.id is not None
    found = gauging_results(session, site.id, span.since, span.until, structure_id)
    own = [one for one in found if rating and in_force(ratings, one.entry.observed_at) is rating]
    taken = found if every else own
    points = [point_of(one, site) for one in judged_by(taken, rating)] if rating else []
    return Standing(
        site=site,
        structure=structure,
        ratings=ratings,
        rating=rating,
        until=next_from(ratings, rating),
        every=every,
        span=span,
        points=points,
        elsewhere=len(found) - len(taken),
        tests=evidence_of([point for point in points if point.counted]),
    )


def choose(ratings: Sequence[Rating], rating_id: int | None, now: datetime) -> Rating | None:
    """Return the rating named, or the one in force; raises BadInput for a stranger."""
    if rating_id is None:
        return in_force(ratings, now) or (ratings[-1] if ratings else None)
    for rating in ratings:
        if rating.id == rating_id:
            return rating
    raise BadInput(
        "rating", rating_id, "this structure has no such rating", "Choose one from the list."
    )


def next_from(ratings: Sequence[Rating], rating: Rating | None) -> datetime | None:
    """Return when the next rating takes over; None while there is none."""
    if rating is None:
        return None
    begins = rating.valid_from, rating.id or 0
    later = [row.valid_from for row in ratings if (row.valid_from, row.id or 0) > begins]
    return min(later, default=None)


def judged_by(found: Sequence[GaugingResult], rating: Rating) -> list[GaugingResult]:
    """Return gaugings with the verdict that one rating deserves, whatever was in force."""
    open_ones: list[tuple[GaugingResult, Rating | None]] = []
    for one in found:
        lacking = "" if one.head is not None else one.rating.lacking or "the head is not known"
        said = RatingAtHead(
            rating_id=rating.id, gauge_zero_id=one.rating.gauge_zero_id, lacking=lacking
        )
        open_ones.append((replace(one, rating=said), rating))
    return [
        judged(replace(one, rating=said))
        for (one, _), said in zip(open_ones, rate_all(open_ones), strict=True)
    ]


def point_of(one: GaugingResult, site: Site) -> Point:
    season, year = season_of(one.started_at, site)
    return Point(one, season, year, why_not(one))


def why_not(one: GaugingResult) -> str:
    """Return why a gauging says nothing of a rating; empty when it does."""
    if one.gauging is None:
        return "no discharge could be worked out"
    if one.gauging.indication_only:
        return "an indication only"
    if one.deviation_pct is None:
        return one.rating.lacking or "the rating gives no discharge"
    if one.head is not None and one.head.steady is False:
        return "the head moved while it was made"
    return ""


def season_of(at: datetime, site: Site) -> tuple[str, str]:
    """Return the quarter of the site's year, and the year or years it lies in."""
    local = at.astimezone(timezone(timedelta(minutes=site.utc_offset_min)))
    first = local.month // 3 * 3 or 12
    name, south, north = SEASONS[first]
    if site.latitude is not None:
        name += f" ({south if site.latitude < 0 else north})"
    begins = local.year - 1 if first == 12 and local.month != 12 else local.year
    return name, f"{begins}/{(begins + 1) % 100:02d}" if first == 12 else str(begins)


def evidence_of(points: Sequence[Point]) -> Evidence | None:
    """Return the tests of the gaugings that count; None when there is none."""
    deviations = [point.one.deviation_pct or 0.0 for point in points]
    if not deviations:
        return None
    heads = [point.one.head_mean_m or 0.0 for point in points]
    begin = points[0].one.started_at
    bias, signs = bias_test(deviations), sign_test(deviations)
    # With nearly all on one side the signs change seldom, bend or no bend: look past the bias.
    apart = bias.biased is True or signs.uneven is True
    level = bias.mean_pct if apart else 0.0
    days = [(point.one.started_at - begin).total_seconds() / 86400.0 for point in points]
    seasons = [point.season for point in points]
    years = {f"{p.season} {p.season_year}": (p.season, p.season_year) for p in points}
    by_year = by_season(deviations, [f"{p.season} {p.season_year}" for p in points])
    return Evidence(
        bias=bias,
        signs=signs,
        runs=run_test([each - level for each in deviations], heads),
        runs_about_mean=apart,
        drift=drift_test(deviations, days),
        seasons=by_season(deviations, seasons),
        season_years=[(*years[each.season], each) for each in by_year],
    )


def conclusion(found: Standing) -> tuple[str, list[str]]:
    """Return what all this comes to: a word (stands, look, unknown) and what to do about it."""
    tests, count = found.tests, len(found.counted)
    if tests is None or count < 2:
        return "unknown", ["Too few gaugings count: gauge at low, middle and high heads."]
    fails = sum(point.one.word == "fails" for point in found.counted)
    shown = {
        tests.bias.words: tests.bias.biased,
        tests.signs.words: tests.signs.uneven,
        tests.runs.words: tests.runs.bent,
        tests.drift.words: tests.drift.drifts,
    }
    advice = [f"{words[0].upper()}{words[1:]}." for words, against in shown.items() if against]
    if fails:
        advice.append(
            f"{fails} of {count} gaugings differ from the rating by more than both explain."
        )
    word = "look" if advice else "stands"
    if advice:
        advice.append(
            "Before the rating is changed, check the gauge zero, the dimensions as built and "
            "the tailwater."
        )
    if tests.bias.biased and abs(tests.bias.mean_pct) > SHIFT_PCT:
        advice.append(
            f"More than {SHIFT_PCT:g} % on one side again and again is more often a shift of "
            "zero or control than a wrong equation."
        )
    if count < FEW:
        advice.append(f"With fewer than {FEW} gaugings the tests can miss a real fault.")
    if is_fitted(found.rating) and any(before(point, found.rating) for point in found.counted):
        advice.append(
            "This rating is a fit: gaugings from before it began may be those it was fitted to, "
            "and agree for that reason. Only later ones test it."
        )
    return word, advice


def is_fitted(rating: Rating | None) -> bool:
    device = device_or_none(rating)
    return device is not None and device.family.fitted_dims is not None


def before(point: Point, rating: Rating | None) -> bool:
    return rating is not None and point.one.started_at < rating.valid_from
