"""Old readings from a paper book or a spreadsheet: the sheet, its batches, taking one back."""

from typing import Annotated

from fastapi import Depends, Path, Request, Response
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import Form
from app.records.database import utc_now
from app.records.people import Person
from app.services.books import batches as book_batches
from app.services.books.files import rows_of_file
from app.services.books.page import new_sheet, readers
from app.services.books.preview import told
from app.services.books.ratings import RatingLook, look_at_rating, take_rating_in
from app.services.books.sheet import GAUGINGS, PAPER_COLUMNS, READINGS, posted_rows, sheet_of
from app.services.books.tables import batch_rows, batch_table, batches_table
from app.services.books.take_in import LOOKS, refuse_nothing
from app.services.books.take_in import take_in as take_rows_in
from app.services.sites.register import get_site
from app.services.sites.structures import place
from app.web.bodies import largest
from app.web.deps import PersonDep, SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.posted import PostedDep, rate_again_at
from app.web.render import fresh_json, listing, page
from app.web.requests import RowId
from app.web.routes.sync import body_json

router = guarded_router()

LARGEST_SHEET = 4 * 1024 * 1024
BatchId = Annotated[str, Path(pattern=r"^[0-9a-f-]{36}$")]
JsonDep = Annotated[object, Depends(body_json)]


@router.get("/structures/{structure_id}/books")
@office
def show(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return shown_sheet(request, session, structure_id, READINGS)


@router.get("/structures/{structure_id}/books/gaugings")
@office
def show_gaugings(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    return shown_sheet(request, session, structure_id, GAUGINGS)


def shown_sheet(request: Request, session: Session, structure_id: int, of: str) -> Response:
    site, structure = place(session, structure_id)
    assert site.id is not None
    return page(
        request,
        f"books/{of}.html",
        site=site,
        structure=structure,
        of=of,
        form=new_sheet(site, utc_now()),
        columns=PAPER_COLUMNS[of],
        readers=readers(session),
        batches=book_batches.batches(session, site.id),
    )


@router.post("/structures/{structure_id}/books/look")
@office
@largest(LARGEST_SHEET, "Take the rest in as a further sheet.")
def check(
    session: SessionDep, person: PersonDep, structure_id: RowId, content: JsonDep
) -> Response:
    return looked(session, person, structure_id, content, READINGS)


@router.post("/structures/{structure_id}/books/gaugings/look")
@office
@largest(LARGEST_SHEET, "Take the rest in as a further sheet.")
def check_gaugings(
    session: SessionDep, person: PersonDep, structure_id: RowId, content: JsonDep
) -> Response:
    return looked(session, person, structure_id, content, GAUGINGS)


def looked(
    session: Session, person: Person, structure_id: int, content: object, of: str
) -> Response:
    said, rows = posted_rows(content, of)
    found = LOOKS[of](session, structure_id, sheet_of(said), rows, person, utc_now())
    return fresh_json({"rows": [told(found, one) for one in found.rows]})


@router.post("/structures/{structure_id}/books")
@office
@largest(LARGEST_SHEET, "Take the rest in as a further sheet.")
def take_in(
    session: SessionDep, person: PersonDep, structure_id: RowId, content: JsonDep
) -> Response:
    return taken(session, person, structure_id, content, READINGS)


@router.post("/structures/{structure_id}/books/gaugings")
@office
@largest(LARGEST_SHEET, "Take the rest in as a further sheet.")
def take_gaugings_in(
    session: SessionDep, person: PersonDep, structure_id: RowId, content: JsonDep
) -> Response:
    return taken(session, person, structure_id, content, GAUGINGS)


def taken(
    session: Session, person: Person, structure_id: int, content: object, of: str
) -> Response:
    said, rows = posted_rows(content, of)
    refuse_nothing(rows)
    found, answers = take_rows_in(
        session, structure_id, sheet_of(said), rows, person, utc_now(), of=of
    )
    return fresh_json({"batch": found.sheet.batch, "rows": answers})


async def file_bytes(request: Request) -> bytes:
    return await request.body()


BytesDep = Annotated[bytes, Depends(file_bytes)]


@router.post("/structures/{structure_id}/books/file")
@office
@largest(LARGEST_SHEET, "Take the rest in as a further file.")
def read_file(session: SessionDep, structure_id: RowId, content: BytesDep) -> Response:
    place(session, structure_id)
    return file_rows(content, READINGS)


@router.post("/structures/{structure_id}/books/gaugings/file")
@office
@largest(LARGEST_SHEET, "Take the rest in as a further file.")
def read_gaugings_file(session: SessionDep, structure_id: RowId, content: BytesDep) -> Response:
    place(session, structure_id)
    return file_rows(content, GAUGINGS)


def file_rows(content: bytes, of: str) -> Response:
    found = rows_of_file(content, of=of)
    rows = [{"row": one.number, "cells": dict(one.cells)} for one in found.rows]
    units = {"unit": found.unit, "flow_unit": found.flow_unit}
    return fresh_json({"rows": rows, **units, "left": found.left, "encoding": found.encoding})


@router.get("/structures/{structure_id}/books/ratings")
@office
def show_ratings(request: Request, session: SessionDep, structure_id: RowId) -> Response:
    site, _ = place(session, structure_id)
    return shown_rating(request, session, structure_id, {"unit": site.head_unit})


def shown_rating(
    request: Request,
    session: Session,
    structure_id: int,
    form: Form,
    *,
    seen: RatingLook | None = None,
    error: BadInput | None = None,
) -> Response:
    site, structure = place(session, structure_id)
    return page(
        request,
        "books/ratings.html",
        site=site,
        structure=structure,
        form=form,
        look=seen,
        error=error,
    )


@router.post("/structures/{structure_id}/books/ratings")
@office
def take_rating(post: PostedDep, structure_id: RowId) -> Response:
    def again(error: BadInput) -> Response:
        return shown_rating(post.request, post.session, structure_id, post.form, error=error)

    if post.form.get("act") != "take":
        return post.answer(
            lambda: look_at_rating(post.session, structure_id, post.form),
            then=lambda seen: shown_rating(
                post.request, post.session, structure_id, post.form, seen=seen
            ),
            again=again,
        )
    return post.answer(
        lambda: take_rating_in(post.session, structure_id, post.form, post.by_id),
        then=lambda _: rate_again_at(post.session, structure_id),
        again=again,
    )


@router.get("/sites/{site_id}/books.csv")
@router.get("/sites/{site_id}/books.json")
@everyone
def batch_list(request: Request, session: SessionDep, site_id: RowId) -> Response:
    get_site(session, site_id)
    return listing(request, batches_table(session, site_id))


@router.get("/books/{batch}.csv")
@router.get("/books/{batch}.json")
@everyone
def batch_rows_list(request: Request, session: SessionDep, batch: BatchId) -> Response:
    return listing(request, batch_table(session, batch))


@router.get("/books/{batch}")
@everyone
def show_batch(request: Request, session: SessionDep, batch: BatchId) -> Response:
    return shown(request, session, batch, {})


def shown(
    request: Request, session: Session, batch: str, form: Form, error: BadInput | None = None
) -> Response:
    known, site, rows = batch_rows(session, batch)
    _, structure = place(session, known.structure_id)
    return page(
        request,
        "books/batch.html",
        site=site,
        structure=structure,
        found=known,
        rows=rows,
        form=form,
        error=error,
    )


@router.post("/books/{batch}/undo")
@office
def undo(post: PostedDep, batch: BatchId) -> Response:
    return post.answer(
        lambda: book_batches.undo(post.session, batch, post.form, post.person, utc_now()),
        then=lambda _: f"/books/{batch}",
        again=lambda error: shown(post.request, post.session, batch, post.form, error),
    )
