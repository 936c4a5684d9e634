"""One posted form: try the act, keep it and go on; else nothing is kept and the form comes back.

A route says what is done, where it goes then, and how the page is shown again. The figures that
were typed stay in their boxes, each fault stands beside its own, and the status says what it is.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Annotated, TypeVar

from fastapi import Depends, Request, Response
from fastapi.responses import RedirectResponse
from sqlmodel import Session

from app.errors import BadInput
from app.language.forms import ChangedMeanwhile
from app.records.people import Person
from app.services.sites.structures import get_structure
from app.web.deps import PersonDep, SessionDep
from app.web.render import as_json, wants_json
from app.web.requests import FormDep

Done = TypeVar("Done")


def answer(
    request: Request,
    session: Session,
    act: Callable[[], Done],
    *,
    then: Callable[[Done], str | Response],
    again: Callable[[BadInput], Response],
) -> Response:
    """Do what a form asks for, in one transaction, and answer.

    Parameters
    ----------
    act : callable
        What is done in the request's session; what it refuses leaves no trace.
    then : callable
        Gives the address to go on to (303), or the page to show, from what the act gave.
    again : callable
        Gives the page with the form as typed and the fault beside its box.
    """
    try:
        done = act()
    except BadInput as error:
        session.rollback()
        if wants_json(request):
            return as_json(error)
        return again(error)
    going = then(done)
    session.commit()
    return RedirectResponse(going, status_code=303) if isinstance(going, str) else going


@dataclass(frozen=True)
class Posted:
    """A form that somebody sent: what it holds, who sent it, and the session it is done in."""

    request: Request
    session: Session
    person: Person
    form: dict[str, str]

    @property
    def by_id(self) -> int:
        """The row of the person: whoever is signed in has one."""
        assert self.person.id is not None
        return self.person.id

    def answer(
        self,
        act: Callable[[], Done],
        *,
        then: Callable[[Done], str | Response],
        again: Callable[[BadInput], Response],
    ) -> Response:
        """Do what the form asks for and answer, as `answer` says."""
        return answer(self.request, self.session, act, then=then, again=again)


def posted(request: Request, session: SessionDep, person: PersonDep, form: FormDep) -> Posted:
    return Posted(request, session, person, form)


PostedDep = Annotated[Posted, Depends(posted)]


def present_revision(error: BadInput | None) -> dict[str, str]:
    """Return the revision a form goes on from: saving again after a clash is meant."""
    now = error.now if isinstance(error, ChangedMeanwhile) else {}
    return {key: now[key] for key in now if key == "revision"}


def rate_again_at(session: Session, structure_id: int) -> str:
    """Return the address of the look at what a new rating, zero or dimension changes."""
    return f"/sites/{get_structure(session, structure_id).site_id}/rate-again"
