"""Plans of a site: worked out, kept, chosen from. A plan never changes; a new one is made."""

import logging
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlmodel import Session, col, select

from app import __version__
from app.errors import BadInput, NotFound, SillbookError
from app.language import forms
from app.language.forms import Form
from app.language.typed import shown as shown_figure
from app.records.audit import write_audit
from app.records.database import insert_new
from app.records.entries import Entry
from app.records.plans import Plan, PlanChoice
from app.records.sites import Rating, Site, Structure
from app.services.entries.links import what_stands
from app.services.plans.inputs import EMPTY, plan_inputs
from app.services.plans.work import work_out
from app.services.sites import structures
from app.services.sites.changes import names_of
from app.services.sites.families import DIM
from app.services.sites.register import get_site

log = logging.getLogger("sillbook.planning")

WORKED_OUT = "plan worked out; it comes with the next refresh of the sites"
PHONE_PLANS = 3  # of a site, so many travel with the pack


@dataclass(frozen=True)
class PlanView:
    """A plan with who made it and what was chosen from it, newest choice first."""

    plan: Plan
    by: str
    choices: tuple[PlanChoice, ...]

    @property
    def candidates(self) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.plan.result["candidates"]
        return found

    @property
    def chosen(self) -> int | None:
        """Return the number of the candidate chosen last, None without a choice."""
        return self.choices[0].candidate if self.choices else None


def plans(session: Session, site_id: int) -> list[PlanView]:
    """Return the plans of a site, newest first; raises NotFound.

    A plan asked from a phone is left out when what asked for it stands no more, unless something
    was chosen from it.
    """
    get_site(session, site_id)
    links = what_stands(session, site_id)
    query = select(Plan).where(Plan.site_id == site_id).order_by(col(Plan.id).desc())
    found = _views(session, session.exec(query).all())
    return [v for v in found if v.choices or links.stands(v.plan.entry_id or "")]


def get_plan(session: Session, plan_id: int) -> PlanView:
    """Return one plan; raises NotFound."""
    plan = session.get(Plan, plan_id)
    if plan is None:
        raise NotFound(f"plan {plan_id}")
    return _views(session, [plan])[0]


def _views(session: Session, found: Sequence[Plan]) -> list[PlanView]:
    names = names_of(session)
    query = select(PlanChoice).where(col(PlanChoice.plan_id).in_([p.id for p in found]))
    choices = session.exec(query.order_by(col(PlanChoice.id).desc())).all()
    return [
        PlanView(p, names.get(p.by_id, ""), tuple(c for c in choices if c.plan_id == p.id))
        for p in found
    ]


def new_form(session: Session, site_id: int, like: int | None = None) -> dict[str, str]:
    """Return the form of a plan: empty, or as another plan of the site was asked."""
    get_site(session, site_id)
    if like is None:
        return dict(EMPTY)
    return EMPTY | get_plan(session, like).plan.inputs


def add_plan(session: Session, site_id: int, form: Form, by_id: int) -> Plan:
    """Work a plan out and keep it in the caller's transaction; raises BadInput, NotFound."""
    get_site(session, site_id)
    asked = plan_inputs(form)
    twin = session.exec(
        select(Plan)
        .where(Plan.site_id == site_id, Plan.by_id == by_id)
        .order_by(col(Plan.id).desc())
    ).first()
    if twin is not None and twin.inputs == asked.asked and twin.engine == __version__:
        return twin  # a second press of the button: the same question by the same person
    plan = Plan(
        site_id=site_id, name=asked.name, inputs=asked.asked, result=work_out(asked),
        engine=__version__, by_id=by_id,
    )  # fmt: skip
    session.add(plan)
    session.flush()
    return plan


def make_asked(session: Session, entry_ids: Sequence[str], received_at: datetime) -> dict[str, str]:
    """Work out the plans asked for on phones; return the words for each receipt.

    The entries are stored already: whatever happens here never looks like a lost one, and sending
    one again makes up for a plan that was not worked out.
    """
    query = select(Entry).where(col(Entry.id).in_(entry_ids), Entry.kind == "plan")
    asked = [(e.id, e.site_id, e.by_id, e.body["inputs"]) for e in session.exec(query)]
    known = set(session.exec(select(Plan.entry_id).where(col(Plan.entry_id).in_(entry_ids))))
    said: dict[str, str] = {}
    for entry_id, site_id, by_id, inputs in asked:
        if entry_id in known:
            said[entry_id] = WORKED_OUT
            continue
        try:
            question = plan_inputs(inputs)
            row = {
                "site_id": site_id, "name": question.name, "inputs": question.asked,
                "result": work_out(question), "engine": __version__, "entry_id": entry_id,
                "by_id": by_id, "created_at": received_at,
            }  # fmt: skip
            insert_new(session, Plan, [row], "entry_id")
            session.commit()
            said[entry_id] = WORKED_OUT
        except SillbookError as error:
            session.rollback()
            said[entry_id] = f"plan not worked out: {error}"
        except Exception:
            session.rollback()
            log.exception("working out a plan failed")
            said[entry_id] = "plan not worked out: the server failed; ask again in the office"
    return said


def choose(session: Session, plan_id: int, form: Form, by_id: int) -> PlanChoice:
    """Take a candidate as the intended design: a rating with that reason, and the choice kept.

    Raises
    ------
    BadInput
        When the candidate has a problem, no structure is named, or no reason is given.
    """
    view = get_plan(session, plan_id)
    plan = view.plan
    site = get_site(session, plan.site_id)
    asked = forms.together(
        number=lambda: _candidate(view, form),
        structure_name=lambda: forms.text(
            form, "structure_name", most=80, required=form.get("structure_id") == "new"
        ),
        valid_from=lambda: forms.site_moment(form, "valid_from", site.utc_offset_min),
        reason=lambda: forms.text(form, "reason", most=1000, required=True),
    )
    number, reason = asked["number"], asked["reason"]
    one = view.candidates[number]
    dims = {
        DIM + key: value if isinstance(value, str) else forms.figure_text(value)
        for key, value in one["dims"].items()
    }
    rating_form = dims | {
        "family": one["family"],
        "valid_from": form.get("valid_from", ""),
        "reason": f"Intended: plan {plan.id}, {plan.name}. {reason}",
    }
    rating, structure_id = _rating(session, site, form, rating_form, one, by_id)
    assert rating.id is not None
    assert plan.id is not None
    choice = PlanChoice(
        plan_id=plan.id, candidate=number, structure_id=structure_id, rating_id=rating.id,
        crest_rl_m=one["crest_rl_m"], reason=reason, by_id=by_id,
    )  # fmt: skip
    session.add(choice)
    session.flush()
    after = {"plan_id": plan.id, "candidate": one["described"], "crest_rl_m": one["crest_rl_m"]}
    write_audit(
        session, by_id, "intended design chosen", "structure", structure_id, after=after,
        reason=reason,
    )  # fmt: skip
    return choice


def _candidate(view: PlanView, form: Form) -> int:
    typed = form.get("candidate", "")
    number = int(typed) if typed.isascii() and typed.isdigit() and len(typed) < 10 else -1
    if not 0 <= number < len(view.candidates) or "problem" in view.candidates[number]:
        raise BadInput("candidate", typed, "is no candidate that was judged", "Choose another.")
    return number


def _rating(
    session: Session, site: Site, form: Form, rating_form: dict[str, str], one: dict[str, Any],
    by_id: int,
) -> tuple[Rating, int]:  # fmt: skip
    typed = form.get("structure_id", "")
    if typed == "new":
        area = one["pond_area_m2"]
        fields = rating_form | {
            "name": form.get("structure_name", ""),
            "pond_area_m2": "" if area is None else shown_figure(area, 4),
            "head_uncertainty_mm": "",
        }
        assert site.id is not None
        structure = structures.add_structure(session, site.id, fields, by_id)
        assert structure.id is not None
        rating = session.exec(select(Rating).where(Rating.structure_id == structure.id)).one()
        return rating, structure.id
    known = {str(s.id): s.id for s in site_structures(session, site)}
    structure_id = known.get(typed)
    if structure_id is None:
        raise BadInput("structure_id", typed, "is not at this site", "Choose the structure.")
    return structures.add_rating(session, structure_id, rating_form, by_id), structure_id


def site_structures(session: Session, site: Site) -> list[Structure]:
    query = select(Structure).where(Structure.site_id == site.id).order_by(col(Structure.id))
    return list(session.exec(query))


def intended(session: Session, structure_id: int) -> tuple[PlanChoice, Plan] | None:
    """Return the newest choice for a structure with its plan; None when nothing was planned."""
    found = session.exec(
        select(PlanChoice, Plan)
        .join(Plan, col(PlanChoice.plan_id) == col(Plan.id))
        .where(PlanChoice.structure_id == structure_id)
        .order_by(col(PlanChoice.id).desc())
    ).first()
    return None if found is None else (found[0], found[1])


def for_phone(session: Session, site_id: int) -> list[dict[str, Any]]:
    """Return the newest plans of a site and those chosen, for the planning page of the phone."""
    found = plans(session, site_id)
    kept = [v for i, v in enumerate(found) if i < PHONE_PLANS or v.choices]
    return [
        {
            "id": v.plan.id,
            "name": v.plan.name,
            "by_name": v.by,
            "created_at": v.plan.created_at.isoformat(),
            "entry_id": v.plan.entry_id,
            "inputs": v.plan.inputs,
            "result": {
                **v.plan.result,
                "candidates": [
                    {k: x for k, x in c.items() if k != "sources"} for c in v.candidates
                ],
            },
            "chosen": v.chosen,
            "chosen_structure_id": v.choices[0].structure_id if v.choices else None,
        }
        for v in kept[: 2 * PHONE_PLANS]
    ]
