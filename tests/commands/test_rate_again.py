"""rate-again as a person types it: shows first, does with --yes, and twice is harmless."""

import json
from collections.abc import Callable

import numpy as np
import pytest
from sqlmodel import Session
from typer.testing import CliRunner

from app.cli import cli
from app.records.people import Person
from app.records.sites import Structure
from app.services.days import daily
from app.services.sites import structures
from tests.builders.record_files import Bench, a_bench, log_text, times
from tests.services.days.test_rebuild import ONE_TO_ONE

run = CliRunner()


@pytest.fixture
def bench(
    session: Session,
    database_url: str,
    monkeypatch: pytest.MonkeyPatch,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> Bench:
    """Give three days of a steady 20 L/s, and a rating that says twice as much of all of it."""
    monkeypatch.setenv("SILLBOOK_DATABASE_URL", database_url)
    made = a_bench(session, a_site, a_person, family="user_power", dims=ONE_TO_ONE)
    t = times(3)
    made.take(log_text(t, np.full(t.size, 0.02)))
    form = {"dim.segments": "2,1,0,0,5", "dim.modular_limit": "0.9", "reason": "measured"}
    form |= {"family": "user_power", "valid_from": "2025-07-01T00:00"}
    structures.add_rating(session, made.id, form, None)
    session.commit()
    return made


def volumes(bench: Bench) -> list[float]:
    found = [float(x) for x in daily.arrays(bench.session, bench.id).volume_m3[:3]]
    bench.session.rollback()  # on SQLite even a look of this session keeps others from writing
    return found


def test_it_is_shown_first_and_done_with_yes(bench: Bench) -> None:
    look = run.invoke(cli, ["rate-again", "TANSY"])
    assert look.exit_code == 0, look.output
    # Q = h becomes Q = 2 h: every figure doubles (derived)
    assert "days: 4 of 4 change, mean +100.00 %, largest +100.00 %" in look.output
    assert "another rating is in force" in look.output
    assert "Add --yes" in look.output
    assert volumes(bench) == pytest.approx([1728.0] * 3)
    done = run.invoke(cli, ["rate-again", "TANSY", "--yes"])
    assert done.exit_code == 0, done.output
    assert "Done." in done.output
    assert volumes(bench) == pytest.approx([3456.0] * 3)
    again = run.invoke(cli, ["rate-again", "TANSY", "--yes"])
    assert "nothing would change" in again.output


def test_as_json_the_look_and_the_act_say_the_same(bench: Bench) -> None:
    look, done, again = (
        json.loads(run.invoke(cli, ["rate-again", "TANSY", "--json", *more]).stdout)
        for more in ([], ["--yes"], ["--yes"])
    )
    assert (look["done"], done["done"], again["done"]) == (False, True, False)
    assert (look["stale"], done["stale"], again["stale"]) == (True, True, False)
    assert look["records"] == done["records"]
    assert look["months"] == done["months"]
    assert look["months"][0]["change_pct"] == pytest.approx(100.0)
    assert again["records"] == []


def test_an_unknown_site_and_no_reason_are_said(bench: Bench) -> None:
    for words in (["rate-again", "NOWHERE"], ["rate-again", "TANSY", "--yes", "--reason", " "]):
        said = run.invoke(cli, words)
        assert said.exit_code == 2
        assert volumes(bench) == pytest.approx([1728.0] * 3)
