"""Figures the office sets for everybody."""

from collections.abc import Callable

import pytest
from sqlmodel import Session

from app.errors import BadInput
from app.records.people import Person
from app.services.sites import preferences


def test_water_years_begin_when_the_office_says(
    session: Session, a_person: Callable[..., Person]
) -> None:
    steward = a_person("Teal", "steward")
    assert preferences.water_year_start(session) == preferences.JULY
    preferences.set_water_year_start(session, 10, 1, steward)
    assert preferences.water_year_start(session) == (10, 1)
    with pytest.raises(BadInput, match="starts on a date of every year"):
        preferences.set_water_year_start(session, 2, 30, steward)
    assert preferences.water_year_start(session) == (10, 1)
