"""The items of the review queue that the long record of a structure gives, read in bulk.

Keys: fault:, drowned:, offer:, differs:, stale: (of a structure). Nothing is decided here.
"""

from collections.abc import Sequence

from sqlmodel import Session

from app.hydraulics.base.findings import Fault
from app.hydraulics.series.layers import Shape
from app.language import forms, words
from app.records.sensors import FoundFault
from app.records.sites import Site, Structure
from app.services.corrections.offers import OfferLine, offered, with_states
from app.services.corrections.visits import CheckLine, check_lines, seen_of
from app.services.days import staleness
from app.services.days.stale import StaleMonth, StaleMonths, StaleReadings, grouped
from app.services.entries.links import what_stands
from app.services.review.items import QueueItem
from app.services.series import faults as series_faults
from app.services.series.flow import inputs_of_many
from app.services.series.months import instant, month_begins_s
from app.services.series.read import STRUCTURES_AT_ONCE
from app.services.settings.in_force import bands, value
from app.services.sites.changes import names_of

MARKED = (Fault.SPIKE, Fault.STUCK, Fault.FLAT, Fault.RANGE, Fault.NOISE)


def items_of_structure(session: Session, site: Site, structure: Structure) -> list[QueueItem]:
    """Return the items of one structure's long record."""
    return items_of_structures(session, [(site, structure)])


def items_of_structures(
    session: Session, places: Sequence[tuple[Site, Structure]]
) -> list[QueueItem]:
    """Return the items of the long records of some structures, read a few dozen at a time."""
    if not places:
        return []
    links = what_stands(session, places[0][0].id if len(places) == 1 else None)
    limits, names = bands(session), names_of(session)
    differs_m = float(value(session, "sensor_difference_m"))
    items: list[QueueItem] = []
    for start in range(0, len(places), STRUCTURES_AT_ONCE):
        part = places[start : start + STRUCTURES_AT_ONCE]
        many = inputs_of_many(session, [x.id for _, x in part if x.id is not None])
        found = series_faults.found_of(session, many, links)
        seen = seen_of(session, many, links)
        asked = {key: offered(x, seen[key], found[key], limits) for key, x in many.items()}
        decided = with_states(session, asked)
        months = staleness.stale_months_of(session, many)
        readings: dict[int, list[StaleReadings]] = {}
        for one in staleness.stale_readings_of(session, {k: x.structure for k, x in many.items()}):
            readings.setdefault(one.structure_id, []).append(one)
        for key, x in many.items():
            items += [_fault(x.site, row) for row in found[key]]
            items += _offers(x.site, x.structure, decided[key])
            items += _differing(
                x.site, x.structure, check_lines(seen[key], limits, names), differs_m
            )
            items += _stale_items(x.site, x.structure, months[key], readings.get(key, []))
    return items


def _offers(site: Site, structure: Structure, found: Sequence[OfferLine]) -> list[QueueItem]:
    items = []
    for offer in found:
        if offer.form is None:
            continue
        what = "weed and the like" if offer.kind == "weed" else "the sensor against the staff"
        items.append(
            QueueItem(
                key=f"offer:{offer.key}",
                kind="offer",
                title=f"correction offered: {offer.shape}, {what}",
                words=offer.why,
                site_id=site.id,
                site_code=site.code,
                structure_id=structure.id,
                quantity="head",
                from_s=offer.from_s,
                to_s=offer.to_s,
                size=offer.amount_end_m,
                unit="m",
                form=offer.form,
                alternatives=offer.alternatives,
                state="accepted" if offer.state == "accepted" else "open",
            )
        )
    return items


def _differing(
    site: Site, structure: Structure, found: Sequence[CheckLine], over_m: float
) -> list[QueueItem]:
    items = []
    for check in found:
        left = check.left_offset_m
        if left is not None and abs(left) > over_m:
            at = int(check.at.timestamp())
            items.append(
                QueueItem(
                    key=f"differs:{check.entry_id}",
                    kind="differs",
                    title="a reading differs from the sensor",
                    words=f"staff minus sensor is {words.millimetres(left)} after the corrections "
                    f"({check.occasion}): {check.action}",
                    site_id=site.id,
                    site_code=site.code,
                    structure_id=structure.id,
                    quantity="head",
                    from_s=at,
                    to_s=at,
                    size=left,
                    unit="m",
                    link={"entry_id": check.entry_id},
                )
            )
    return items


def _stale_items(
    site: Site,
    structure: Structure,
    months: Sequence[StaleMonth],
    stale: Sequence[StaleReadings],
) -> list[QueueItem]:
    """Return what of a structure no longer follows what is in force, with the way to mend it."""
    assert site.id is not None
    assert structure.id is not None
    offset = site.utc_offset_min
    found: list[tuple[StaleMonths | StaleReadings, int, int]] = [
        (x, month_begins_s(x.first, offset), month_begins_s(x.last + 1, offset) - 1)
        for x in grouped(months)
    ]
    for readings in stale:
        first, last = (int(t.timestamp()) for t in (readings.first_at, readings.last_at))
        found.append((readings, first, last))
    return [
        QueueItem(
            key=f"stale:{structure.id}:{row.mark}",
            kind="stale",
            title=row.title,
            words=f"{row.words}; {row.remedy}",
            site_id=site.id,
            site_code=site.code,
            structure_id=structure.id,
            quantity="head",
            from_s=a,
            to_s=b,
            link={"month": row.of, "act": row.act(site.id), "approved": row.approved},
        )
        for row, a, b in found
    ]


def _fault(site: Site, row: FoundFault) -> QueueItem:
    kind = "drowned" if row.kind == series_faults.DROWNED else "fault"
    form = None
    if kind == "fault" and row.kind in MARKED:
        form = {
            "shape": str(Shape.SPIKE),
            "quantity": row.quantity,
            "from": forms.local_text(instant(row.from_s), site.utc_offset_min),
            "to": forms.local_text(instant(row.to_s), site.utc_offset_min),
            "reason": f"{row.kind}: {row.words}",
            "offer_key": f"fault:{row.structure_id}:{row.quantity}:{row.kind}:{row.from_s}",
        }
    return QueueItem(
        key=f"{kind}:{row.structure_id}:{row.quantity}:{row.kind}:{row.from_s}",
        kind=kind,
        title=row.kind if row.quantity == "head" else f"{row.kind} (tailwater)",
        words=row.words,
        site_id=site.id,
        site_code=site.code,
        structure_id=row.structure_id,
        quantity=row.quantity,
        from_s=row.from_s,
        to_s=row.to_s,
        size=row.size,
        unit=row.unit,
        form=form,
    )
