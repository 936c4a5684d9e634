"""Logger files into the record: twice, overlapping, contradicting, taken back, clocks, memory.

The rules are those of field practice: raw data are kept as they came, a correction is a new row
(common practice of hydrometric records; ISO/TS 24154 and ISO 1100 series speak of the same).
"""

import hashlib
import tracemalloc
from collections.abc import Callable

import numpy as np
import pytest
import sqlalchemy as sa
from sqlalchemy.exc import DatabaseError
from sqlmodel import Session, select

from app.errors import BadInput, NotFound
from app.records.audit import AuditEntry
from app.records.files import KeptFile
from app.records.people import Person
from app.records.sensors import DailyFlow, FoundFault, LoggerBlock, LoggerImport, SeriesBlock
from app.records.sites import Structure
from app.services.loggers import lists as logger_lists
from app.services.loggers import register as loggers
from app.services.loggers import undo as logger_undo
from app.services.loggers.preview import preview_import
from app.services.series import raw as raw_series
from app.services.series import read as series_read
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, calm, log_text, times


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    return a_bench(session, a_site, a_person)


def derived(session: Session) -> list[tuple[object, ...]]:
    """Return every derived row, but for the ids and moments that making it again may change."""
    rows: list[tuple[object, ...]] = []
    blocks = session.exec(select(SeriesBlock).order_by(SeriesBlock.structure_id, SeriesBlock.month))
    for block in blocks:
        shown = block.model_dump(exclude={"made_at", "token", "versions"})
        shown["stretches"] = str(block.versions["stretches"])
        rows.append(tuple(shown.values()))
    for day in session.exec(select(DailyFlow).order_by(DailyFlow.structure_id, DailyFlow.day)):
        rows.append(tuple(day.model_dump().values()))
    found = session.exec(select(FoundFault))
    rows += sorted(
        (tuple(f.model_dump(exclude={"id"}).values()) for f in found), key=lambda row: str(row)
    )
    session.expire_all()
    return rows


def series(bench: Bench) -> tuple[np.ndarray, np.ndarray]:
    raw = raw_series.raw_series(bench.session, bench.id)
    return raw.t_s, raw.value_m


def test_a_file_comes_in_whole_and_its_original_is_kept(bench: Bench) -> None:
    t = times(40)
    content = log_text(t, calm(t))
    done = bench.take(content)
    assert (done.state, done.new, done.rows) == ("imported", t.size, t.size)
    held_t, held = series(bench)
    assert np.array_equal(held_t, t)
    assert np.array_equal(held, calm(t))
    kept = bench.session.get(KeptFile, hashlib.sha256(content).hexdigest())
    assert kept is not None
    assert kept.content == content


def test_the_same_file_twice_is_held_already(bench: Bench) -> None:
    t = times(5)
    content = log_text(t, calm(t))
    first = bench.take(content)
    before = derived(bench.session)
    again = bench.take(content)
    assert again.state == "already_held"
    assert again.import_id == first.import_id
    assert derived(bench.session) == before
    assert len(bench.session.exec(select(LoggerImport)).all()) == 1


def test_overlap_ignores_the_same_and_shows_the_different(bench: Bench) -> None:
    t = times(10)
    head = calm(t)
    bench.take(log_text(t[:600], head[:600]), "a.csv")
    other = head.copy()
    other[500] += 0.031
    done = bench.take(log_text(t[400:], other[400:]), "b.csv")
    assert (done.new, done.already_same, done.conflict_count) == (t.size - 600, 199, 1)
    _, held = series(bench)
    assert np.array_equal(held, head)  # what was there first counts
    shown = logger_lists.conflicts(bench.session, done.logger_id or 0)
    assert [(c.held_m, c.other_m, c.held_file, c.other_file) for c in shown] == [
        (head[500], other[500], "a.csv", "b.csv")
    ]


def test_taking_a_file_back_gives_the_record_without_it(bench: Bench) -> None:
    t = times(70)
    head = calm(t)
    bench.take(log_text(t[:3000], head[:3000]), "a.csv")
    before = derived(bench.session)
    blocks = bench.session.exec(select(LoggerBlock)).all()
    raw = {(b.import_id, b.from_s): (b.times, b.values) for b in blocks}
    second = bench.take(log_text(t[2500:], head[2500:] + 0.001), "b.csv")
    assert derived(bench.session) != before
    gone = logger_undo.undo_import(
        bench.session, second.import_id or 0, bench.person, NOW, "wrong site"
    )
    bench.session.commit()
    assert gone.points == t.size - 2500
    assert derived(bench.session) == before
    after = bench.session.exec(select(LoggerBlock)).all()
    assert {(b.import_id, b.from_s): (b.times, b.values) for b in after} == raw
    line = logger_lists.imports(bench.session, bench.site_id)[0]
    assert (line.name, line.undo_reason) == ("b.csv", "wrong site")
    actions = [row.action for row in bench.session.exec(select(AuditEntry))]
    assert "logger file taken back" in actions


def test_taking_the_first_file_back_lets_the_second_stand(bench: Bench) -> None:
    t = times(10)
    head = calm(t)
    first = bench.take(log_text(t[:700], head[:700]), "a.csv")
    bench.take(log_text(t[300:], head[300:] + 0.002), "b.csv")
    logger_undo.undo_import(bench.session, first.import_id or 0, bench.person, NOW, "other logger")
    bench.session.commit()
    held_t, held = series(bench)
    assert np.array_equal(held_t, t[300:])
    assert np.array_equal(held, (head + 0.002)[300:])


def test_an_import_is_taken_back_once_and_with_a_reason(bench: Bench) -> None:
    t = times(2)
    done = bench.take(log_text(t, calm(t)))
    undo = logger_undo.undo_import
    with pytest.raises(BadInput, match="Say why"):
        undo(bench.session, done.import_id or 0, bench.person, NOW, " ")
    undo(bench.session, done.import_id or 0, bench.person, NOW, "test")
    with pytest.raises(BadInput, match="Import the file again"):
        undo(bench.session, done.import_id or 0, bench.person, NOW, "test")
    with pytest.raises(NotFound):
        undo(bench.session, 999, bench.person, NOW, "test")
    assert bench.take(log_text(t, calm(t))).state == "imported"


def test_raw_blocks_refuse_to_be_changed(bench: Bench) -> None:
    t = times(2)
    bench.take(log_text(t, calm(t)))
    with pytest.raises(DatabaseError, match="never changed"):
        bench.session.execute(sa.update(LoggerBlock).values(count=1))
    bench.session.rollback()


def test_a_clock_that_ran_fast_becomes_a_layer_and_the_stamps_stay(bench: Bench) -> None:
    # linear from the last setting: 240 s at day 60 is 120 s at day 30 (derived)
    t = times(60)
    done = bench.take(log_text(t, calm(t)), clock_fast_s=240.0)
    held_t, _ = series(bench)
    assert np.array_equal(held_t, t)
    found = series_read.load(bench.session, bench.id)["t_s"]
    assert found.size == t.size
    assert found[0] == t[0]
    assert found[-1] == t[-1] - 240
    middle = JULY + 30 * DAY
    assert np.min(np.abs(found - (middle - 120))) == 0
    assert done.layer_id is not None
    logger_undo.undo_import(bench.session, done.import_id or 0, bench.person, NOW, "test")
    assert derived(bench.session) == []


def test_missing_readings_are_no_points_and_no_zero(bench: Bench) -> None:
    t = times(3)
    head = calm(t)
    head[50:60] = np.nan
    bench.take(log_text(t, head))
    held_t, held = series(bench)
    assert held_t.size == t.size - 10
    assert np.all(np.isfinite(held))


def test_the_logger_is_known_by_its_serial_and_its_mapping_remembered(bench: Bench) -> None:
    t = times(4)
    text = log_text(t[:200], calm(t)[:200], serial="QX-17").decode()
    odd = text.replace("time,head (m)", "time,stage")
    look = preview_import(bench.session, bench.site_id, odd.encode(), "a.csv", answers={})
    assert look.serial == "QX-17"
    assert look.logger is None
    answers = {"columns": {"2": {"meaning": "head", "unit": "m"}}}
    bench.take(odd.encode(), answers=answers)
    line = loggers.loggers(bench.session, bench.site_id)[0]
    assert line.serial == "QX-17"
    more = log_text(t[200:], calm(t)[200:], serial="QX-17").decode()
    look = preview_import(
        bench.session, bench.site_id, more.replace("time,head (m)", "time,stage").encode(), "b.csv"
    )
    assert look.logger is not None
    assert look.logger.serial == "QX-17"
    assert look.blocked is None


def test_the_preview_writes_nothing_and_says_what_would_come(bench: Bench) -> None:
    t = times(4)
    bench.take(log_text(t[:300], calm(t)[:300]), "a.csv")
    before = derived(bench.session)
    look = preview_import(bench.session, bench.site_id, log_text(t, calm(t)), "b.csv")
    assert (look.new, look.already_same, look.conflict_count) == (t.size - 300, 300, 0)
    assert derived(bench.session) == before
    assert len(bench.session.exec(select(KeptFile)).all()) == 1


def test_a_file_of_another_site_is_said_to_be_held_there(
    bench: Bench, a_site: Callable[..., Structure]
) -> None:
    t = times(2)
    content = log_text(t, calm(t))
    bench.take(content)
    other = a_site("OTHER")
    look = preview_import(bench.session, other.site_id, content, "a.csv")
    assert any("is this the right site" in words for words in look.warnings)
    assert not look.already_held


def test_what_progress_raises_cancels_before_anything_is_written(bench: Bench) -> None:
    class CancelledError(Exception):
        pass

    def stop(done: int, total: int) -> None:
        raise CancelledError

    t = times(4)
    with pytest.raises(CancelledError):
        bench.take(log_text(t, calm(t)), progress=stop)
    assert bench.session.exec(select(KeptFile)).all() == []
    assert bench.session.exec(select(LoggerImport)).all() == []


def test_tailwater_of_the_same_file_becomes_its_own_series(bench: Bench) -> None:
    t = times(3)
    head = calm(t)
    bench.take(log_text(t, head, np.round(head * 0.5, 4)))
    tail = raw_series.raw_series(bench.session, bench.id, "tailwater")
    assert np.array_equal(tail.t_s, t)
    assert np.allclose(tail.value_m, head * 0.5, atol=6e-5)


def test_memory_grows_by_the_arrays_and_not_by_rows(bench: Bench) -> None:
    t = times(700, begin_s=JULY - 200 * DAY, step_s=300)  # 200,000 readings
    content = log_text(t, calm(t))
    bench.take(log_text(t[:10], calm(t)[:10]))
    tracemalloc.start()
    bench.take(content, "long.csv")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert peak < 6 * len(content) + 60e6
