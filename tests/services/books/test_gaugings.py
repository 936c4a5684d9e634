"""Past gaugings as a book states them: never a discharge without its uncertainty or the word.

The rated discharge is worked by hand from the published equation of the flume (read).
"""

import math
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from sqlmodel import Session

from app.language import words
from app.records.people import Person
from app.records.sites import Structure
from app.services.books import batches
from app.services.books.sheet import GAUGINGS
from app.services.books.take_in import take_in
from app.services.fits.candidates import candidate_of
from app.services.gaugings.results import gauging_results
from app.services.gaugings.tables import row_of, whole
from app.services.sites.register import get_site
from tests.services.books.test_take_in import BATCH, NOW, a_sheet, rows

# 1 ft Parshall at 0.210 m: 4 (0.210/0.3048)^1.522 ft3/s = 64.2 L/s (published equation, read)
RATED_M3S = 4.0 * (0.210 / 0.3048) ** 1.522 * 0.3048**3


def test_a_stated_gauging_is_judged_and_one_of_unknown_uncertainty_proves_nothing(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    assert flume.id is not None
    known = {"time": "10:00", "staff": "210", "discharge": "65,0", "method": "bucket and watch"}
    sheet = rows(
        {**known, "day": "2024-08-01", "uncertainty": "5 %", "observer": "Office One"},
        {**known, "day": "2024-08-02"},
        {**known, "day": "2024-08-03", "staff": "", "uncertainty": "5"},
        {**known, "day": "2024-08-04", "discharge": "0"},
        {**known, "day": "2024-08-05", "uncertainty": "-5"},
        {**known, "day": "2024-08-06", "discharge": "=B7"},
        {**known, "day": "2024-08-01", "discharge": "66"},
    )
    _, answers = take_in(session, flume.id, a_sheet(), sheet, person, NOW, of=GAUGINGS)
    assert [one["state"] for one in answers] == ["stored"] * 3 + ["refused"] * 4
    assert answers[1]["discharge"] == "65 L/s, uncertainty unknown"
    judged, unknown, headless = gauging_results(session, flume.site_id)
    assert judged.word == "agrees"
    assert judged.deviation_pct == pytest.approx(100 * (0.065 / RATED_M3S - 1), abs=0.5)
    assert judged.by == "Office One"
    assert (unknown.word, unknown.uncertainty_pct, unknown.e_n) == ("not proven", None, None)
    assert "unknown" in unknown.reason
    assert unknown.deviation_pct == pytest.approx(judged.deviation_pct)
    assert "uncertainty unknown" in unknown.flags
    assert words.discharge(unknown.discharge_m3s, unknown.uncertainty_pct).endswith("unknown")
    assert headless.word == "not proven"
    assert candidate_of(unknown).doubt == "an indication only"
    site = get_site(session, flume.site_id)
    row = row_of(unknown, site)
    assert row["source"] == "from a paper book: Race book 3 (invented)"
    assert row["method"] == "bucket and watch, as a book states it"
    assert row["quality_word"] == "indication only"
    told = whole(unknown, site)["gauging"]
    assert told["uncertainty_pct"] is None
    assert not any(isinstance(x, float) and math.isnan(x) for x in told.values())

    _, again = take_in(session, flume.id, a_sheet(), sheet, person, NOW, of=GAUGINGS)
    assert [one["state"] for one in again] == ["on record"] * 3 + ["refused"] * 4
    batches.undo(session, BATCH, {"reason": "another race"}, person, NOW)
    assert gauging_results(session, flume.site_id) == []
    _, third = take_in(session, flume.id, a_sheet(), sheet, person, NOW, of=GAUGINGS)
    assert [one["state"] for one in third] == ["stored"] * 3 + ["refused"] * 4


def test_a_discharge_in_cubic_metres_and_one_that_can_be_two(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    flume, person = a_site(), a_person("Office One", "office")
    assert flume.id is not None
    at = {"day": "2024-08-01", "time": "10:00", "staff": "210"}
    sheet = a_sheet(flow_unit="m3/s")
    take_in(session, flume.id, sheet, rows({**at, "discharge": "0.065"}), person, NOW, of=GAUGINGS)
    (one,) = gauging_results(session, flume.site_id)
    assert one.discharge_m3s == pytest.approx(0.065)
    assert one.started_at == datetime(2024, 7, 31, 22, tzinfo=UTC)
    two = rows({**at, "time": "11:00", "discharge": "1,250"})
    _, answers = take_in(session, flume.id, a_sheet(), two, person, NOW, of=GAUGINGS)
    assert answers[0]["faults"][0]["rule"] == "it can be 1.25 or 1250"
