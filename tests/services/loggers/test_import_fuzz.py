"""Broken logger files through the import service: stored, or refused by row and column.

The reader alone is fuzzed with many more files in test_logger_file_fuzz; here the way through
the database and the derived series is what may break.
"""

import re
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session

from app.errors import BadInput
from app.records.people import Person
from app.records.sites import Structure
from app.services.loggers import take_in as logger_imports
from app.services.loggers.preview import preview_import
from tests.builders.record_files import NOW, Bench, a_bench, calm, log_text, times

BASE = log_text(times(1.0), calm(times(1.0))).decode()
PIECES = (
    "", ",", ";", "\t", "\n", "\r", '"', "-999", "9999", "NaN", "---", "24:00", "1e308", "-1e308",
    "0,251", "=1+1", "\ufeff", "2026-13-45", "1970-01-01 00:00", "2038-01-19 03:14:08", "\u0661",
    "9" * 60, "0x10", "inf", "\x00", "25/11/2026", "unit (psi)", "time,head (m)\n",
)  # fmt: skip


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    return a_bench(session, a_site, a_person)


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    cuts=st.lists(
        st.tuples(st.integers(0, len(BASE) - 1), st.integers(0, 40), st.sampled_from(PIECES)),
        min_size=1,
        max_size=6,
    ),
    coding=st.sampled_from(("utf-8", "utf-16", "latin-1")),
)
def test_a_broken_file_is_stored_or_refused_by_row_and_column(
    bench: Bench, cuts: list[tuple[int, int, str]], coding: str
) -> None:
    text = BASE
    for at, length, piece in cuts:
        text = text[:at] + piece + text[at + length :]
    content = text.encode(coding, errors="replace")
    refusal: BadInput | None = None
    try:
        look = preview_import(bench.session, bench.site_id, content, "x.csv")
        done = logger_imports.do_import(
            bench.session, bench.site_id, content, "x.csv", bench.person, NOW,
            new_logger={"structure_id": bench.id, "name": "fuzz"},
        )  # fmt: skip
        bench.session.commit()
    except BadInput as error:
        bench.session.rollback()
        refusal = error
    if refusal is not None:
        assert re.match(r"row \d+, column \d+", refusal.field), refusal.field
        assert refusal.rule
        assert refusal.remedy
        return
    assert done.new <= look.rows
    assert look.blocked is None


def test_a_reset_clock_is_refused_with_its_remedy_and_the_rest_comes_in(bench: Bench) -> None:
    t = times(2)
    text = log_text(t, calm(t)).decode().split("\n")
    text[100] = re.sub(r"^\d{4}-\d\d-\d\d", "1970-01-01", text[100])
    look = preview_import(bench.session, bench.site_id, "\n".join(text).encode(), "reset.csv")
    (problem,) = look.problems
    assert "reset" in problem.rule
    assert "restart_at" in problem.remedy
    assert look.new == t.size - 1


def test_an_open_question_blocks_until_it_is_answered(bench: Bench) -> None:
    t = times(2, begin_s=1_767_225_600)  # 1 January 2026: day and month both fit
    rows = log_text(t, calm(t)).decode().split("\n")
    rows = [re.sub(r"^(\d{4})-(\d\d)-(\d\d)", r"\3/\2/\1", row) for row in rows]
    content = "\n".join(rows).encode()
    look = preview_import(bench.session, bench.site_id, content, "order.csv")
    assert look.blocked is not None
    assert [q.key for q in look.questions] == ["date_order"]
    with pytest.raises(BadInput, match="row"):
        bench.take(content)
    done = bench.take(content, answers={"date_order": "day first"})
    assert done.new == t.size
    assert np.isfinite(done.rows)
