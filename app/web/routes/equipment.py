"""The register of instruments: the list, one instrument, its places and calibrations."""

from typing import Annotated, Any

from fastapi import Depends, Request, Response
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
from app.web.posted import PostedDep, answer
from app.web.render import download_as, listing, page
from app.web.requests import MOST_FIELDS, EntryId, RowId, WordsQuery, answered

router = guarded_router()

PAGES = {"check_gauging": "/gaugings/", "level_run": "/level-runs/"}
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
def add(post: PostedDep) -> Response:
    return post.answer(
        lambda: enter.add_instrument(post.session, post.form, post.person, utc_now()),
        then=lambda made: f"/equipment/{made}",
        again=lambda error: new_form(post.request, post.session, post.form, error),
    )


def new_form(
    request: Request, session: Session, form: Form, error: BadInput | None = None
) -> Response:
    return page(
        request,
        "equipment/new.html",
        form=form,
        error=error,
        now={},
        **choices(session),
    )


def choices(session: Session) -> dict[str, Any]:
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
def change(post: PostedDep, instrument_id: RowId) -> Response:
    return post.answer(
        lambda: enter.change_facts(post.session, instrument_id, post.form, post.person, utc_now()),
        then=lambda _: f"/equipment/{instrument_id}",
        again=lambda error: shown(
            post.request, post.session, instrument_id, error=error, of="facts", form=post.form
        ),
    )


@router.post("/equipment/{instrument_id}/places")
@office
def move(post: PostedDep, instrument_id: RowId) -> Response:
    return post.answer(
        lambda: enter.move(post.session, instrument_id, post.form, post.person, utc_now()),
        then=lambda _: f"/equipment/{instrument_id}#places",
        again=lambda error: shown(
            post.request, post.session, instrument_id, error=error, of="place", form=post.form
        ),
    )


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
    return answer(
        request,
        session,
        lambda: calibrations.add_calibration(session, instrument_id, form, person, utc_now(), file),
        then=lambda _: f"/equipment/{instrument_id}#calibrations",
        again=lambda error: shown(
            request,
            session,
            instrument_id,
            error=error,
            of="calibration",
            form=form,
            fix=form.get("replaces_id", ""),
        ),
    )


@router.post("/entries/{entry_id}/instrument")
@office
def name_instrument(post: PostedDep, entry_id: EntryId) -> Response:
    def again(error: BadInput) -> Response:
        raise error  # the page of the entry offers only what is in the register

    return post.answer(
        lambda: naming.name_instrument(post.session, entry_id, post.form, post.person, utc_now()),
        then=lambda entry: f"{address_of(entry)}#instrument",
        again=again,
    )


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
