"""The register of instruments: the list, one instrument, its places and calibrations."""

from typing import Annotated

from fastapi import Depends, Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session
from starlette.datastructures import UploadFile

from app.errors import BadInput
from app.language.forms import Form
from app.records.database import utc_now
from app.services.entries.kept_files import LARGEST, TOO_LARGE
from app.services.equipment import calibrations, enter, fitness, naming, register
from app.services.equipment import tables as equipment_tables
from app.services.equipment.coefficients import coefficient_lines
from app.services.sites import accounts
from app.services.sites.tables import site_list
from app.services.sync.page import address_of
from app.web.bodies import FORM_AROUND, largest
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import download_as, listing, page
from app.web.requests import MOST_FIELDS, EntryId, FormDep, RowId, WordsQuery, answered

router = guarded_router()

PAGES = {"check_gauging": "/check-gaugings/", "level_run": "/level-runs/"}
Calibrated = tuple[dict[str, str], tuple[str, bytes] | None]


async def with_file(request: Request) -> Calibrated:
    """Return the fields of a form and its one file, None where none was chosen."""
    async with request.form(max_files=1, max_fields=MOST_FIELDS) as form:
        fields = {k: v for k, v in form.multi_items() if not isinstance(v, UploadFile)}
        file = form.get("file")
        if not isinstance(file, UploadFile) or not file.filename:
            return answered(fields), None
        return answered(fields), (file.filename, await file.read())


CalibratedDep = Annotated[Calibrated, Depends(with_file)]


@router.get("/equipment.csv")
@router.get("/equipment.json")
@everyone
def as_list(
    request: Request,
    session: SessionDep,
    kind: WordsQuery = "",
    state: WordsQuery = "",
    q: WordsQuery = "",
    in_use: WordsQuery = "",
) -> Response:
    today = utc_now().date()
    found = equipment_tables.register(
        session, today, kind=kind, state=state, words=q, in_use=in_use == "yes"
    )
    return listing(request, equipment_tables.register_table(found))


@router.get("/equipment")
@everyone
def index(
    request: Request,
    session: SessionDep,
    kind: WordsQuery = "",
    state: WordsQuery = "",
    q: WordsQuery = "",
    in_use: WordsQuery = "",
) -> Response:
    today = utc_now().date()
    found = equipment_tables.register(
        session, today, kind=kind, state=state, words=q, in_use=in_use == "yes"
    )
    return page(
        request,
        "equipment/index.html",
        found=found,
        kinds=register.INSTRUMENT_KINDS,
        states=fitness.STATES,
        asked={"kind": kind, "state": state, "q": q, "in_use": in_use},
    )


@router.get("/equipment/new")
@office
def new(request: Request, session: SessionDep) -> Response:
    return new_form(request, session, {})


@router.post("/equipment")
@office
def add(request: Request, session: SessionDep, person: PersonDep, form: FormDep) -> Response:
    try:
        made = enter.add_instrument(session, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return new_form(request, session, form, error)
    session.commit()
    return RedirectResponse(f"/equipment/{made}", status_code=303)


def new_form(
    request: Request, session: Session, form: Form, error: BadInput | None = None
) -> Response:
    return page(
        request,
        "equipment/new.html",
        status=422 if error else 200,
        form=form,
        error=error,
        now={},
        **choices(session),
    )


def choices(session: Session) -> dict[str, object]:
    """Return what the forms of the register offer."""
    people = [(str(p.id), p.name) for p in accounts.people(session) if p.active]
    return {
        "kinds": register.INSTRUMENT_KINDS,
        "places": register.INSTRUMENT_PLACES,
        "sites": [(str(row["id"]), row["name"]) for row in site_list(session).rows],
        "people": people,
        "outcomes": fitness.OUTCOMES,
    }


@router.get("/equipment/calibrations/{calibration_id}/certificate")
@everyone
def certificate(session: SessionDep, calibration_id: RowId) -> Response:
    found = calibrations.certificate(session, calibration_id)
    return Response(
        found.content,
        media_type="application/octet-stream",
        headers={**download_as(found.name), "cache-control": "private, no-store"},
    )


@router.get("/equipment/{instrument_id}")
@everyone
def show(
    request: Request, session: SessionDep, instrument_id: RowId, fix: WordsQuery = ""
) -> Response:
    return shown(request, session, instrument_id, fix=fix)


@router.get("/equipment/{instrument_id}/calibrations.csv")
@router.get("/equipment/{instrument_id}/calibrations.json")
@everyone
def calibration_list(request: Request, session: SessionDep, instrument_id: RowId) -> Response:
    return listing(request, equipment_tables.calibrations_table(session, instrument_id))


@router.get("/equipment/{instrument_id}/places.csv")
@router.get("/equipment/{instrument_id}/places.json")
@everyone
def place_list(request: Request, session: SessionDep, instrument_id: RowId) -> Response:
    return listing(request, equipment_tables.places_table(session, instrument_id))


@router.get("/equipment/{instrument_id}/facts.csv")
@router.get("/equipment/{instrument_id}/facts.json")
@everyone
def fact_list(request: Request, session: SessionDep, instrument_id: RowId) -> Response:
    return listing(request, equipment_tables.facts_table(session, instrument_id))


@router.post("/equipment/{instrument_id}")
@office
def change(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, instrument_id: RowId
) -> Response:
    try:
        enter.change_facts(session, instrument_id, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return shown(request, session, instrument_id, error=error, of="facts", form=form)
    session.commit()
    return RedirectResponse(f"/equipment/{instrument_id}", status_code=303)


@router.post("/equipment/{instrument_id}/places")
@office
def move(
    request: Request, session: SessionDep, person: PersonDep, form: FormDep, instrument_id: RowId
) -> Response:
    try:
        enter.move(session, instrument_id, form, person, utc_now())
    except BadInput as error:
        session.rollback()
        return shown(request, session, instrument_id, error=error, of="place", form=form)
    session.commit()
    return RedirectResponse(f"/equipment/{instrument_id}#places", status_code=303)


@router.post("/equipment/{instrument_id}/calibrations")
@office
@largest(LARGEST[calibrations.CERTIFICATE] + FORM_AROUND, TOO_LARGE[calibrations.CERTIFICATE])
def calibrate(
    request: Request,
    session: SessionDep,
    person: PersonDep,
    instrument_id: RowId,
    sent: CalibratedDep,
) -> Response:
    form, file = sent
    try:
        calibrations.add_calibration(session, instrument_id, form, person, utc_now(), file)
    except BadInput as error:
        session.rollback()
        fix = form.get("replaces_id", "")
        return shown(
            request, session, instrument_id, error=error, of="calibration", form=form, fix=fix
        )
    session.commit()
    return RedirectResponse(f"/equipment/{instrument_id}#calibrations", status_code=303)


@router.post("/entries/{entry_id}/instrument")
@office
def name_instrument(
    session: SessionDep, person: PersonDep, form: FormDep, entry_id: EntryId
) -> Response:
    entry = naming.name_instrument(session, entry_id, form, person, utc_now())
    session.commit()
    return RedirectResponse(f"{address_of(entry)}#instrument", status_code=303)


def shown(
    request: Request,
    session: Session,
    instrument_id: int,
    *,
    error: BadInput | None = None,
    of: str = "",
    form: Form | None = None,
    fix: str = "",
) -> Response:
    """Answer with the page of an instrument; `of` says which of its forms the error belongs to."""
    today = utc_now().date()
    found = equipment_tables.instrument_page(session, instrument_id, today)
    fixed = next((x for x in found.calibrations if x.stands and str(x.id) == fix), None)
    return page(
        request,
        "equipment/show.html",
        status=422 if error else 200,
        found=found,
        one=found.now.of,
        state=found.now.state,
        error=error,
        of=of,
        facts_form=form
        if of == "facts"
        else equipment_tables.form_of(session, instrument_id, today),
        place_form=form if of == "place" else {},
        calibration_form=form
        if of == "calibration"
        else equipment_tables.calibration_form(fixed)
        if fixed
        else {},
        fixed=fixed,
        today=today,
        now={},
        entry_pages=PAGES,
        coefficient_lines=coefficient_lines,
        **choices(session),
    )
