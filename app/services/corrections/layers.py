"""Correction layers of a structure: listed in the order they are applied in, added, taken back.

A layer is never changed and the raw readings never touched: taking a layer back gives the very
same figures as before it. A layer that reaches into an approved month is refused.
"""

from dataclasses import dataclass
from datetime import datetime

from sqlmodel import Session, col, select

from app.errors import BadInput, NotFound
from app.hydraulics.series.layers import ORDER, Shape
from app.language import forms
from app.language.forms import Form
from app.records.audit import write_audit
from app.records.people import Person
from app.records.sensors import CorrectionLayer, LayerWithdrawal
from app.records.sites import Site
from app.services.corrections.amounts import added_uncertainty_m, amount_words, amounts
from app.services.days import rebuild as series_store
from app.services.days.cited import span_of
from app.services.days.state import refuse_if_approved
from app.services.series.flow import QUANTITIES
from app.services.series.layering import layer_of
from app.services.series.months import instant
from app.services.sites.changes import names_of
from app.services.sites.structures import place

SHAPES: dict[str, str] = {
    Shape.CLOCK_SHIFT: "the logger's clock was wrong by the same time throughout",
    Shape.CLOCK_DRIFT: "the logger's clock ran away evenly",
    Shape.OFFSET: "the same amount is added throughout",
    Shape.RAMP: "the amount grows evenly between two checks",
    Shape.STEP: "one amount before a moment, another one after it",
    Shape.SPIKE: "readings are set aside",
    Shape.ESTIMATED: "a person's estimate, kept apart from what was measured",
    Shape.NO_RECORD: "nothing inside counts",
}


@dataclass(frozen=True, kw_only=True)
class LayerLine:
    """A correction as people read it; `place` is where it comes in the fixed order."""

    id: int
    place: int
    shape: str
    shape_words: str
    quantity: str
    from_at: datetime
    to_at: datetime
    at: datetime | None
    amount: float | None
    amount_end: float | None
    amount_words: str
    uncertainty_m: float
    reason: str
    offer_key: str
    by: str
    added_at: datetime
    withdrawn_at: datetime | None
    withdrawn_by: str
    withdraw_reason: str


def layers(
    session: Session,
    structure_id: int,
    *,
    quantity: str | None = None,
    with_withdrawn: bool = False,
) -> list[LayerLine]:
    """Return the corrections of a structure in the order in which they are applied."""
    names = names_of(session)
    site, _ = place(session, structure_id)
    found = session.exec(
        select(CorrectionLayer, LayerWithdrawal)
        .outerjoin(LayerWithdrawal, col(LayerWithdrawal.layer_id) == col(CorrectionLayer.id))
        .where(CorrectionLayer.structure_id == structure_id)
        .order_by(col(CorrectionLayer.id))
    ).all()
    ordered = sorted(found, key=lambda pair: ORDER.index(Shape(pair[0].shape)))
    lines = []
    count = 0
    for row, gone in ordered:
        if quantity not in (None, row.quantity) or (gone is not None and not with_withdrawn):
            continue
        count += gone is None
        lines.append(
            LayerLine(
                id=row.id or 0,
                place=0 if gone is not None else count,
                shape=row.shape,
                shape_words=SHAPES[Shape(row.shape)],
                quantity=row.quantity,
                from_at=instant(row.from_s),
                to_at=instant(row.to_s),
                at=None if row.at_s is None else instant(row.at_s),
                amount=row.amount,
                amount_end=row.amount_end,
                amount_words=amount_words(row, site.head_unit),
                uncertainty_m=row.uncertainty_m,
                reason=row.reason,
                offer_key=row.offer_key,
                by=names.get(row.by_id, ""),
                added_at=row.at,
                withdrawn_at=gone.at if gone else None,
                withdrawn_by=names.get(gone.by_id, "") if gone else "",
                withdraw_reason=gone.reason if gone else "",
            )
        )
    return lines


def row_of(
    session: Session, structure_id: int, form: Form, person: Person, now: datetime
) -> CorrectionLayer:
    """Return a correction from a form, not yet stored.

    Form fields: shape, quantity, from, to, at (site time), unit (of the heads; metres without),
    amount, amount_end (to add, or seconds the clock was fast), uncertainty, reason, offer_key.

    Raises
    ------
    BadInput
        For the first field that breaks a rule.
    """
    site, _ = place(session, structure_id)
    assert person.id is not None
    try:
        shape = Shape(form.get("shape", ""))
    except ValueError:
        raise BadInput(
            "shape", form.get("shape", "")[:20], "not a shape of correction", "Choose one."
        ) from None
    quantity = form.get("quantity") or "head"
    if quantity not in QUANTITIES:
        raise BadInput("quantity", quantity[:20], "head or tailwater", "Choose one.")
    found = forms.together(
        pair=lambda: amounts(form, shape),
        uncertainty_m=lambda: added_uncertainty_m(form, shape),
        from_s=lambda: _second(form, "from", site),
        to_s=lambda: _second(form, "to", site),
        at_s=lambda: _second(form, "at", site) if shape is Shape.STEP else None,
        reason=lambda: forms.text(form, "reason", most=2000, required=True),
        offer_key=lambda: forms.text(form, "offer_key", most=120),
    )
    amount, amount_end = found.pop("pair")
    row = CorrectionLayer(
        structure_id=structure_id,
        quantity=quantity,
        shape=str(shape),
        amount=amount,
        amount_end=amount_end,
        **found,
        by_id=person.id,
        at=now,
    )
    layer_of(row)  # refuses what cannot be applied
    return row


def _second(form: Form, field: str, site: Site) -> int:
    return int(forms.site_moment(form, field, site.utc_offset_min).timestamp())


def add_layer(
    session: Session, structure_id: int, form: Form, person: Person, now: datetime
) -> CorrectionLayer:
    """Add a correction and make the flows of its range again.

    Raises
    ------
    BadInput
        For the first field that breaks a rule, or when it touches an approved month.
    """
    row = row_of(session, structure_id, form, person, now)
    begin, end = span_of(row)
    refuse_if_approved(session, structure_id, begin, end, "this correction")
    if (
        row.offer_key
        and session.exec(
            select(CorrectionLayer.id).where(
                CorrectionLayer.structure_id == structure_id,
                CorrectionLayer.offer_key == row.offer_key,
                col(CorrectionLayer.id).not_in(select(LayerWithdrawal.layer_id)),
            )
        ).first()
    ):
        raise BadInput(
            "offer_key", row.offer_key, "this correction was accepted already", "Look at the list."
        )
    session.add(row)
    session.flush()
    series_store.rebuild(session, structure_id, begin, end)
    write_audit(
        session,
        person.id,
        "correction added",
        "structure",
        structure_id,
        after=_facts(row),
        reason=row.reason,
    )
    return row


def withdraw_layer(
    session: Session, layer_id: int, reason: str, person: Person, now: datetime
) -> None:
    """Take a correction back; it stays on record with the reason.

    Raises
    ------
    NotFound
        When there is no such correction.
    BadInput
        When it was taken back already, no reason is given, or it touches an approved month.
    """
    row = session.get(CorrectionLayer, layer_id)
    if row is None:
        raise NotFound(f"correction {layer_id}")
    reason = reason.strip()[:2000]
    if not reason:
        raise BadInput("reason", "", "this is needed", "Say why the correction is taken back.")
    if session.get(LayerWithdrawal, layer_id) is not None:
        raise BadInput(
            "correction", layer_id, "was taken back already", "Write a new one if it is needed."
        )
    begin, end = span_of(row)
    refuse_if_approved(session, row.structure_id, begin, end, "taking this correction back")
    assert person.id is not None
    session.add(LayerWithdrawal(layer_id=layer_id, reason=reason, by_id=person.id, at=now))
    session.flush()
    series_store.rebuild(session, row.structure_id, begin, end)
    write_audit(
        session,
        person.id,
        "correction taken back",
        "structure",
        row.structure_id,
        before=_facts(row),
        reason=reason,
    )


def _facts(row: CorrectionLayer) -> dict[str, object]:
    return {
        "layer_id": row.id,
        "shape": row.shape,
        "quantity": row.quantity,
        "from": instant(row.from_s).isoformat(),
        "to": instant(row.to_s).isoformat(),
        "amount": amount_words(row),
    }
