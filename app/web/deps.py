"""What routes ask for: a database session and the person signed in."""

from collections.abc import Iterator
from typing import Annotated

from fastapi import Depends, Request
from sqlmodel import Session

from app.records.database import reading_session
from app.records.people import Person


def get_session(request: Request) -> Iterator[Session]:
    """Give a session, and leave it for the page; one that only looks takes no write lock."""
    if request.method in {"GET", "HEAD"}:
        with reading_session(request.app.state.engine) as session:
            request.state.session = session
            yield session
    else:
        with request.app.state.new_session() as session:
            request.state.session = session
            yield session


def get_person(request: Request) -> Person:
    person: Person = request.state.person
    return person


SessionDep = Annotated[Session, Depends(get_session)]
PersonDep = Annotated[Person, Depends(get_person)]
