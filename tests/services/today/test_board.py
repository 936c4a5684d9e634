"""The board: what is newest of a site, how old, how complete its month, and what it lacks."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import sqlalchemy as sa
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Rating, Site, Structure
from app.services.today import drawing
from app.services.today.board import LONG_RECORD, STAFF, SiteRow, board
from tests.builders import many_sites
from tests.builders.record_files import DAY, STEP_S, a_bench, calm, log_text
from tests.conftest import a_reading, iso, send

NOW = datetime(2026, 11, 25, 2, 0, tzinfo=UTC)  # 14:00 on the 25th at the sites, UTC+12
MONTH_S = int(datetime(2026, 10, 31, 12, tzinfo=UTC).timestamp())  # 1 November at the sites


def row_of(session: Session, structure: Structure, now: datetime = NOW) -> SiteRow:
    return next(x for x in board(session, now) if x.id == structure.site_id)


def test_a_site_with_neither_is_unknown_and_says_what_it_lacks(
    session: Session, a_site: Callable[..., Structure]
) -> None:
    bare = Site(code="BARE", name="Bare (invented)", utc_offset_min=720)
    session.add(bare)
    structure = a_site("TANSY", zeroed=False)
    session.commit()
    rows = {row.site.code: row for row in board(session, NOW)}
    for code in ("BARE", "TANSY"):
        assert rows[code].news is None
        assert rows[code].age_s is None
        assert rows[code].month is None
        assert rows[code].line is None
        assert rows[code].old
    assert rows["BARE"].lacking == ("no structure yet",)
    assert rows["TANSY"].lacking == (f"{structure.name}: no gauge zero in force",)


def test_a_site_with_staff_readings_only(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, person = a_site(), a_person()
    early = a_reading(structure, person, 0.20, at=NOW - timedelta(days=40))
    late = a_reading(structure, person, 0.21, at=NOW - timedelta(days=3), tail_state="clearly_free")
    send(session, person, late, early)  # the older one comes later
    row = row_of(session, structure)
    assert row.news is not None
    assert row.news.entry_id == late["id"]
    assert row.news.source == STAFF
    assert row.flow == "free"
    assert row.news.uncertainty_pct is not None
    assert row.age_s == pytest.approx(3 * DAY)
    assert row.month is None, "no logger: nothing can be said of the month's record"
    assert row.line is not None
    assert "1 staff reading" in row.line.title, "the one of 40 days ago lies outside"
    assert "no logger record" in row.line.title
    assert [s["kind"] for s in row.line.shapes] == ["polyline", "polygon"], "marks, never a line"


def test_a_withdrawn_reading_is_no_news(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, person = a_site(), a_person("Rudd", "office")
    kept = a_reading(structure, person, 0.20, at=NOW - timedelta(days=9))
    gone = a_reading(structure, person, 0.90, at=NOW - timedelta(days=2))
    send(session, person, kept, gone)
    send(
        session,
        person,
        {
            **a_reading(structure, person, at=NOW),
            "kind": "withdrawal",
            "corrects": gone["id"],
            "reason": "wrong site",
            "body": {},
        },
    )
    row = row_of(session, structure)
    assert row.news is not None
    assert row.news.entry_id == kept["id"]
    assert row.line is not None
    assert "1 staff reading" in row.line.title


def test_what_lies_ahead_of_now_does_not_hide_what_is_known(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, person = a_site(), a_person()
    known = a_reading(structure, person, at=NOW - timedelta(days=2))
    ahead = a_reading(structure, person, at=NOW + timedelta(days=300))
    send(session, person, known, ahead)
    row = row_of(session, structure)
    assert row.news is not None
    assert row.news.entry_id == known["id"]


def test_a_site_with_a_logger_only(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person)
    end = int(NOW.timestamp()) - 2 * DAY
    t_s = np.arange(MONTH_S, end + 1, STEP_S, dtype=np.int64)
    bench.take(log_text(t_s, calm(t_s)))
    row = row_of(session, bench.structure)
    assert row.news is not None
    assert row.news.source == LONG_RECORD
    assert row.news.at == datetime.fromtimestamp(int(t_s[-1]), UTC)
    assert row.news.uncertainty_pct is not None
    assert row.flow == "assumed free"
    assert row.month is not None
    elapsed = NOW.timestamp() - MONTH_S
    assert row.month.measured == pytest.approx((end - MONTH_S) / elapsed, abs=0.002)
    assert not row.old


def test_the_newer_of_staff_and_logger_counts(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person)
    end = int(NOW.timestamp()) - 10 * DAY
    t_s = np.arange(end - 5 * DAY, end + 1, STEP_S, dtype=np.int64)
    bench.take(log_text(t_s, calm(t_s)))
    send(
        session, bench.person, a_reading(bench.structure, bench.person, at=NOW - timedelta(days=12))
    )
    assert row_of(session, bench.structure).news.source == LONG_RECORD  # type: ignore[union-attr]
    send(
        session, bench.person, a_reading(bench.structure, bench.person, at=NOW - timedelta(days=1))
    )
    assert row_of(session, bench.structure).news.source == STAFF  # type: ignore[union-attr]


def test_a_spike_at_the_end_is_passed_over_and_a_logger_clock_ahead_too(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person)
    now_s = int(NOW.timestamp())
    t_s = np.arange(now_s - 3 * DAY, now_s + 3 * DAY, STEP_S, dtype=np.int64)
    bench.take(log_text(t_s, calm(t_s)))
    row = row_of(session, bench.structure)
    assert row.news is not None
    assert 0 <= row.age_s < 2 * STEP_S  # type: ignore[operator]
    assert row.month is not None
    assert row.month.measured <= 1.0


def test_another_rating_makes_the_row_out_of_date(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    structure, person = a_site(), a_person()
    send(session, person, a_reading(structure, person, at=NOW - timedelta(days=3)))
    assert row_of(session, structure).stale == ""
    session.add(
        Rating(
            structure_id=structure.id, valid_from=NOW - timedelta(days=30), family="parshall",
            dims={"size": "2ft"}, reason="measured anew",
        )
    )  # fmt: skip
    session.commit()
    assert "another rating is in force" in row_of(session, structure).stale


def test_of_two_structures_the_newest_news_and_the_worst_month(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person)
    second = Structure(
        site_id=bench.site_id, name="Bypass", family="parshall", dims={"size": "1ft"}
    )
    session.add(second)
    session.commit()
    now_s = int(NOW.timestamp())
    t_s = np.arange(MONTH_S, now_s, STEP_S, dtype=np.int64)
    bench.take(log_text(t_s, calm(t_s)))
    row = row_of(session, bench.structure)
    assert row.structure == bench.structure.name
    assert row.month is not None
    assert row.month.measured > 0.99
    assert row.lacking == ("Bypass: no rating in force", "Bypass: no gauge zero in force")


def test_a_gap_is_left_open_and_the_peak_is_kept(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person)
    now_s = int(NOW.timestamp())
    t_s = np.arange(now_s - 20 * DAY, now_s, STEP_S, dtype=np.int64)
    head = calm(t_s)
    peak = t_s.size // 4
    head[peak : peak + 4] = 0.45  # an hour of flood
    inside = (t_s < now_s - 10 * DAY) | (t_s > now_s - 6 * DAY)
    bench.take(log_text(t_s[inside], head[inside]))
    row = row_of(session, bench.structure)
    assert row.line is not None
    bands = [s for s in row.line.shapes if s["kind"] == "polygon"]
    assert len(bands) == 2, "one shape on either side of the gap"
    ys = [float(p.split(",")[1]) for band in bands for p in band["points"].split()]
    assert min(ys) == pytest.approx(drawing.EDGE, abs=0.06), "the highest point reaches the top"
    found = session.execute(sa.text("SELECT max(high_m3s) FROM daily_flow")).scalar_one()
    assert f"highest {found * 1000:.3g} L/s" in row.line.title


def test_the_board_takes_as_many_statements_for_one_site_as_for_many(
    session: Session, a_person: Callable[..., Person]
) -> None:
    counted: list[int] = []

    def statements(now: datetime) -> int:
        session.expire_all()
        asked = [0]

        def count(*_: object) -> None:
            asked[0] += 1

        bind = session.get_bind()
        sa.event.listen(bind, "before_cursor_execute", count)
        board(session, now)
        sa.event.remove(bind, "before_cursor_execute", count)
        return asked[0]

    now = datetime.now(UTC)
    many_sites.template(session, a_person("Rudd", "office"), now, days=40)
    counted.append(statements(now))
    many_sites.copies(session, 12)
    counted.append(statements(now))
    assert counted[1] == counted[0]
    assert len(board(session, now)) == 12
    assert iso(now)
