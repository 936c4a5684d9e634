"""visits-due and equipment, as a person types them."""

import json
from collections.abc import Callable

import pytest
from sqlmodel import Session
from typer.testing import CliRunner

from app.cli import cli
from app.records.database import utc_now
from app.records.people import Person
from app.records.sites import Structure
from app.services.equipment import enter
from app.services.visits.plans import add_plan

run = CliRunner()


def test_what_is_due_and_what_is_in_the_register(
    session: Session,
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", database_url)
    assert "No site yet" in run.invoke(cli, ["visits-due"]).output
    assert "No instrument" in run.invoke(cli, ["equipment"]).output
    office, structure = a_person("Rudd", "office"), a_site()
    a_site("SEDGE")
    plan = {"interval_days": "7", "valid_from": "2024-01-01", "reason": "x", "round": "lower"}
    add_plan(session, structure.site_id, plan, office, utc_now())
    level = {"kind": "level", "described": "A level", "place": "store", "words": "shelf"}
    enter.add_instrument(session, level, office, utc_now())
    session.commit()
    first, second = run.invoke(cli, ["visits-due"]).output.splitlines()
    assert first.startswith("TANSY")
    assert "overdue by" in first
    assert "no interval set" in second
    (row,) = json.loads(run.invoke(cli, ["visits-due", "--round", "lower", "--json"]).output)[
        "rows"
    ]
    assert row["due_on"] == "2024-01-01"
    assert "unknown: no calibration on record" in run.invoke(cli, ["equipment"]).output
    assert (
        json.loads(run.invoke(cli, ["equipment", "--state", "overdue", "--json"]).output)["rows"]
        == []
    )
