"""The audit trail: who changed what, when and why, with the values before and after."""

from functools import partial
from typing import Annotated
from urllib.parse import urlencode

from fastapi import Query, Request, Response

from app.services.review import tables as review_tables
from app.services.review import trail as record_audit
from app.services.review.tables import audit_table
from app.services.sites.register import get_site
from app.services.sites.tables import site_list
from app.web.deps import SessionDep
from app.web.guard import everyone, guarded_router, office
from app.web.render import form_of, listing, page
from app.web.requests import RowId, SiteDep

router = guarded_router()

SubjectQuery = Annotated[str, Query(max_length=40, pattern=r"^[^\x00]*$")]
BeforeQuery = Annotated[int | None, Query(alias="before", ge=1, le=2**31 - 1)]
PART = 20


@router.get("/audit")
@office
def index(
    request: Request,
    session: SessionDep,
    site_id: SiteDep,
    subject: SubjectQuery = "",
    before: BeforeQuery = None,
) -> Response:
    lines = record_audit.audit(
        session,
        site_id=site_id,
        subject=subject or None,
        limit=PART,
        before_id=before,
    )
    return page(
        request,
        "review/trail.html",
        lines=lines,
        sites=site_list(session).rows,
        subjects=review_tables.audit_subjects(session),
        site_id=site_id,
        subject=subject,
        whole=len(lines) < PART,
    )


@router.get("/sites/{site_id}/changes")
@everyone
def of_site(
    request: Request, session: SessionDep, site_id: RowId, before: BeforeQuery = None
) -> Response:
    site = get_site(session, site_id)
    lines = record_audit.audit(session, site_id=site_id, limit=PART + 1, before_id=before)
    return page(
        request,
        "review/changes.html",
        site=site,
        lines=lines[:PART],
        older=lines[PART - 1].id if len(lines) > PART else None,
        before=before,
    )


@router.get("/audit.csv")
@router.get("/audit.json")
@office
def as_list(
    request: Request,
    session: SessionDep,
    site_id: SiteDep,
    subject: SubjectQuery = "",
    before: BeforeQuery = None,
) -> Response:
    """List the trail: as CSV whole, as JSON in pages of which each names the next."""
    found = partial(
        record_audit.audit,
        session,
        site_id=site_id,
        subject=subject or None,
        limit=record_audit.MOST,
    )
    lines = part = found(before_id=before)
    if form_of(request) != "json":
        while len(part) == record_audit.MOST:
            part = found(before_id=part[-1].id)
            lines = lines + part
    elif len(part) == record_audit.MOST:
        asked = urlencode({"site": site_id or "", "subject": subject, "before": part[-1].id})
        return listing(request, audit_table(lines), after=f"/audit.json?{asked}")
    return listing(request, audit_table(lines))
