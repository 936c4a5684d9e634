"""A rating as CSV and as the card of the gauge house."""

import itertools
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from sqlmodel import Session

from app.errors import BadInput, NotFound
from app.records.sites import Rating, Structure
from app.services.fits import card as rating_tables
from app.services.fits.card import card, rating_table
from tests.conftest import BEGIN

NOW = datetime(2026, 11, 25, 3, tzinfo=UTC)


def test_rows_of_the_table_against_the_published_law(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    # Utah State Univ. BIE 5300/6300 lecture 2 (2005): 0.61 m Parshall, Q = 1.429 ha^1.55, and
    # 0.75 m3/s at 0.66 m (read)
    structure = a_site(dims={"size": "2ft"})
    rows = rating_table(session, structure.id or 0, 1, "5").rows
    by_head = {row["head_m"]: row for row in rows}
    for head in (0.1, 0.3, 0.5, 0.66):
        assert by_head[head]["discharge_m3s"] == pytest.approx(1.429 * head**1.55, rel=2e-3)
    assert by_head[0.66]["discharge_m3s"] == pytest.approx(0.75, abs=0.005)
    assert by_head[0.3]["flags"] == []
    assert by_head[0.3]["flow"] == "free"
    assert "below range" in by_head[0.005]["flags"]
    assert all(row["uncertainty_pct"] > 0 for row in rows)
    heads = np.array(list(by_head))
    np.testing.assert_allclose(np.diff(heads), 0.005, rtol=1e-9)
    fine = rating_table(session, structure.id or 0, 1, "1").rows
    assert len(fine) == 760
    assert fine[-1]["head_m"] == 0.76


def test_the_card_says_what_the_table_says(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site(zero_offset_m=0.004)
    found = card(session, structure.id or 0, 1, "1", NOW)
    table = {
        round(row["head_m"] * 1000): row["discharge_m3s"] * 1000
        for row in rating_table(session, structure.id or 0, 1, "1").rows
    }
    assert found.unit == "L/s"
    seen = 0
    for row in (row for part in found.pages for row in part):
        for step, cell in zip(found.steps, row.cells, strict=True):
            if cell.text:
                true = table[row.head_mm + step]
                assert float(cell.text) == pytest.approx(true, rel=0.02, abs=0.06)
                seen += 1
    assert seen == 760 - 29  # from the least head of the range, 30 mm, on
    assert len(found.pages) == 2
    assert found.zero is not None
    assert found.zero.offset_m == pytest.approx(0.004)
    assert found.modular_limit is not None
    assert found.until is None


def test_neighbours_on_the_card_can_be_told_apart(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site()
    for step in ("1", "5"):
        found = card(session, structure.id or 0, 1, step, NOW)
        cells = [c.text for part in found.pages for row in part for c in row.cells if c.text]
        assert all(float(b) > float(a) for a, b in itertools.pairwise(cells))


def test_a_rating_with_an_end_and_flags(session: Session, a_site: Callable[..., Structure]) -> None:
    structure = a_site(family="long_throat_rect", dims={"b": 0.4, "L": 0.8, "p": 0.1, "B": 0.8})
    session.add(
        Rating(
            structure_id=structure.id or 0,
            valid_from=BEGIN + timedelta(days=100),
            family=structure.family,
            dims=structure.dims,
            reason="measured again",
        )
    )
    session.commit()
    found = card(session, structure.id or 0, 1, "5", NOW)
    assert found.until == BEGIN + timedelta(days=100)
    assert found.flags  # h over half the length of the throat: outside the standard's limits
    flagged = [c for part in found.pages for row in part for c in row.cells if c.flagged]
    assert flagged
    assert all(c.text for c in flagged)


def test_a_card_longer_than_two_pages_is_refused_with_the_remedy(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site(family="user_power", dims={"segments": "1.2,1.5,0,0.05,2.5"})
    with pytest.raises(BadInput, match="Take 5 mm"):
        card(session, structure.id or 0, 1, "1", NOW)
    found = card(session, structure.id or 0, 1, "", NOW)  # the finest that fits
    assert found.step_mm == 5
    assert sum(len(part) for part in found.pages) <= rating_tables.MOST_ROWS


@pytest.mark.parametrize("step", ["2", "0", "-1", "one", "1.0"])
def test_other_steps_are_refused(
    session: Session, a_site: Callable[..., Structure], step: str
) -> None:
    structure = a_site()
    with pytest.raises(BadInput, match="1 mm or 5 mm"):
        rating_table(session, structure.id or 0, 1, step)


def test_a_rating_of_another_structure_is_not_here(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    a_site()
    other = a_site("OTHER")
    with pytest.raises(NotFound):
        rating_table(session, other.id or 0, 1, "1")


def test_no_rating_is_below_its_cease_to_flow(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site(family="user_power", dims={"segments": "1.2,1.5,0.035,0.05,0.6"})
    rows = rating_table(session, structure.id or 0, 1, "5").rows
    assert rows[0]["head_m"] == 0.04
    assert all(row["discharge_m3s"] > 0 for row in rows)
