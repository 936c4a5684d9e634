"""Check gaugings of a site: worked out from what was observed, judged against the dated rating.

The phone's own figures are a preview. Here every gauging is worked out again from its stored
observations each time it is asked for; nothing derived is kept, so nothing can go stale.
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound, SillbookError
from app.hydraulics.gauging.verdict import Gauging, HeadDuring, Verdict
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flow, flag_words
from app.records.entries import Entry
from app.records.sites import GaugeZero, Rating, Structure
from app.services.entries.bodies.gauging import METHODS
from app.services.entries.links import standing_only, what_stands
from app.services.entries.standing import Standing
from app.services.entries.written import copied_by, observer_of
from app.services.equipment.uses import NO_INSTRUMENT, Used, used_by
from app.services.gaugings.heads import RatingAtHead, heads_of, number_or_none, verdict_of
from app.services.gaugings.work import worked
from app.services.sites.changes import names_of
from app.services.sites.dated import device_of, histories, in_force

KIND = "check_gauging"


@dataclass(frozen=True, kw_only=True)
class GaugingResult:
    """One check gauging as the office sees it; None where a figure is not known."""

    entry: Entry
    structure: Structure
    by: str
    started_at: datetime
    ended_at: datetime
    gauging: Gauging | None
    problem: BadInput | None
    heads_m: list[float]
    head: HeadDuring | None
    tailwater_m: float | None
    rating: RatingAtHead
    verdict: Verdict | None
    flags: list[str]
    corrected_by: list[str]
    rival: bool
    stands: bool
    withdrawn_by: list[str]
    used: Used = NO_INSTRUMENT
    copied_by: str = ""

    @property
    def method(self) -> str:
        """The method in words, with the rule of the section where there is one."""
        name = METHODS[self.entry.body["observed"]["method"]]
        return self.gauging.method if self.gauging else name

    @property
    def discharge_m3s(self) -> float | None:
        return self.gauging.discharge_m3s if self.gauging else None

    @property
    def uncertainty_pct(self) -> float | None:
        return number_or_none(self.gauging.uncertainty_pct) if self.gauging else None

    @property
    def head_mean_m(self) -> float | None:
        return self.head.mean_m if self.head else None

    @property
    def word(self) -> str:
        """agrees, fails or not proven; "no discharge" when it could not be worked out."""
        return self.verdict.word if self.verdict else "no discharge"

    @property
    def reason(self) -> str:
        return self.verdict.reason if self.verdict else str(self.problem or "")

    @property
    def deviation_pct(self) -> float | None:
        return number_or_none(self.verdict.deviation_pct) if self.verdict else None

    @property
    def e_n(self) -> float | None:
        return number_or_none(self.verdict.e_n) if self.verdict else None


def gauging_results(
    session: Session,
    site_id: int,
    since: datetime | None = None,
    until: datetime | None = None,
    structure_id: int | None = None,
    *,
    with_corrected: bool = False,
) -> list[GaugingResult]:
    """Return the check gaugings of a site that stand, oldest first.

    Parameters
    ----------
    since, until : instants; the start of a gauging lies in [since, until)
    with_corrected : also those that do not stand: replaced or withdrawn
    """
    links = what_stands(session, site_id)
    statement = select(Entry).where(Entry.kind == KIND, Entry.site_id == site_id)
    if not with_corrected:
        statement = statement.where(standing_only(session, Entry.id, links))
    if structure_id is not None:
        statement = statement.where(Entry.structure_id == structure_id)
    if since is not None:
        statement = statement.where(col(Entry.observed_at) >= since)
    if until is not None:
        statement = statement.where(col(Entry.observed_at) < until)
    entries = session.exec(statement.order_by(col(Entry.observed_at), col(Entry.id))).all()
    return results_of(session, entries, links)


def newest_results(session: Session, few: int) -> list[GaugingResult]:
    """Return the newest standing check gaugings of every structure, so many each, newest first."""
    links = what_stands(session)
    ranked = (
        sa.select(
            col(Entry.id),
            sa.func.row_number()
            .over(
                partition_by=col(Entry.structure_id),
                order_by=(col(Entry.observed_at).desc(), col(Entry.id).desc()),
            )
            .label("place"),
        )
        .where(col(Entry.kind) == KIND, standing_only(session, Entry.id, links))
        .subquery()
    )
    entries = session.exec(
        select(Entry)
        .join(ranked, ranked.c.id == col(Entry.id))
        .where(ranked.c.place <= few)
        .order_by(col(Entry.observed_at).desc(), col(Entry.id).desc())
    ).all()
    return results_of(session, entries, links)


def gauging_result(session: Session, entry_id: str) -> GaugingResult:
    """Return one check gauging; raises NotFound."""
    entry = session.get(Entry, entry_id) if "\0" not in entry_id else None
    if entry is None or entry.kind != KIND:
        raise NotFound(f"check gauging {entry_id}")
    return results_of(session, [entry], what_stands(session, entry.site_id))[0]


def results_of(session: Session, entries: Sequence[Entry], links: Standing) -> list[GaugingResult]:
    """Return results of entries, rated together by rating and gauge zero."""
    ids = {e.structure_id for e in entries if e.structure_id is not None}
    structures = {
        s.id: s for s in session.exec(select(Structure).where(col(Structure.id).in_(ids)))
    }
    ratings, zeros = histories(session, Rating, ids), histories(session, GaugeZero, ids)
    names, used = names_of(session), used_by(session, entries)
    open_ones: list[tuple[GaugingResult, Rating | None]] = []
    for entry in entries:
        assert entry.structure_id is not None
        rating = in_force(ratings[entry.structure_id], entry.observed_at)
        zero = in_force(zeros[entry.structure_id], entry.observed_at)
        result = unjudged(entry, structures[entry.structure_id], zero, rating)
        author = names.get(entry.by_id, "unknown")
        result = replace(
            result,
            by=observer_of(entry.body, author),
            copied_by=copied_by(entry.body, author),
            corrected_by=links.replaced_by(entry.id),
            rival=links.rival(entry.id),
            stands=links.stands(entry.id),
            withdrawn_by=links.withdrawals(entry.id),
            used=used[entry.id],
        )
        open_ones.append((result, rating))
    rated = rate_all(open_ones)
    return [
        judged(replace(one, rating=said)) for (one, _), said in zip(open_ones, rated, strict=True)
    ]


def unjudged(
    entry: Entry, structure: Structure, zero: GaugeZero | None, rating: Rating | None
) -> GaugingResult:
    """Return a gauging with its discharge and heads, before the rating has its say."""
    body = entry.body
    gauging, problem = None, None
    try:
        gauging = worked(body["observed"])
    except BadInput as error:
        problem = error
    heads, head, lacking = heads_of(body, zero)
    tail = body.get("tailwater") or {}
    tailwater = None
    if tail.get("staff_m") is not None and zero is not None:
        tailwater = tail["staff_m"] + zero.tail_offset_m
    if rating is None:
        lacking = "no rating was in force at that time"
    return GaugingResult(
        entry=entry,
        structure=structure,
        by="",
        started_at=datetime.fromisoformat(body["started_at"]),
        ended_at=datetime.fromisoformat(body["ended_at"]),
        gauging=gauging,
        problem=problem,
        heads_m=heads,
        head=head,
        tailwater_m=tailwater,
        rating=RatingAtHead(
            rating_id=rating.id if rating else None,
            gauge_zero_id=zero.id if zero else None,
            lacking=lacking,
        ),
        verdict=None,
        flags=[],
        corrected_by=[],
        rival=False,
        stands=True,
        withdrawn_by=[],
    )


def rate_all(results: list[tuple[GaugingResult, Rating | None]]) -> list[RatingAtHead]:
    """Return what the ratings say at the mean heads: one vectorised call for each rating."""
    answers = [one.rating for one, _ in results]
    groups: dict[int, list[int]] = defaultdict(list)
    for place, (one, rating) in enumerate(results):
        if rating is not None and rating.id is not None and one.head is not None:
            groups[rating.id].append(place)
    for places in groups.values():
        rating = results[places[0]][1]
        assert rating is not None
        ones = [results[place][0] for place in places]
        try:
            device = device_of(rating)
        except SillbookError as error:
            for place in places:
                answers[place] = replace(answers[place], lacking=str(error))
            continue
        tails = [math.nan if one.tailwater_m is None else one.tailwater_m for one in ones]
        seen = [(one.entry.body.get("tailwater") or {}).get("state") for one in ones]
        rated = rate(
            device,
            np.array([one.head.mean_m for one in ones if one.head]),
            np.array(tails),
            np.array([one.structure.head_uncertainty_m for one in ones]),
            free_seen=np.array([state == "clearly_free" for state in seen]),
        )
        for k, place in enumerate(places):
            flow = Flow(int(rated.flow[k]))
            discharge = number_or_none(float(rated.discharge_m3s[k]))
            answers[place] = replace(
                answers[place],
                discharge_m3s=discharge,
                uncertainty_pct=number_or_none(float(rated.uncertainty_pct[k])),
                submergence_ratio=number_or_none(float(rated.submergence_ratio[k])),
                flow=flow.word,
                flags=flag_words(int(rated.flags[k])),
                lacking="" if discharge else f"the rating gives no discharge: {flow.word}",
            )
    return answers


def judged(result: GaugingResult) -> GaugingResult:
    """Return the result with its verdict and every flag in words."""
    gauging, head, rating = result.gauging, result.head, result.rating
    flags = list(gauging.flags) if gauging else []
    if head is not None and head.steady is not True:
        flags.append(head.word)
    flags += [f"rating: {flag}" for flag in rating.flags]
    if rating.flow not in ("free", "not rated"):
        flags.append(f"rating: {rating.flow}")
    flags += result.used.flags
    if gauging is None:
        return replace(result, flags=flags)
    said = verdict_of(gauging, head, rating, result.entry.body)
    return replace(result, verdict=said, flags=flags)
