"""Thousands of generated logger files: whole ones give the truth, broken ones never a crash."""

import re
from random import Random

import numpy as np
import pytest

from app.errors import BadInput
from app.services.loggers.read import read_logger_file
from tests.builders.logger_files import broken, some_answers, whole

BATCHES, WHOLE, BROKEN = 10, 250, 270  # 5,200 files
# a place in the file, or the answer that is refused, by its key
NAMED = re.compile(
    r"row \d+, column \S|(decimal|delimiter|thousands|date_order|time_zone|\w+_crest_m)$"
)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_whole_files_give_exactly_what_was_written(batch):
    for seed in range(batch * WHOLE, (batch + 1) * WHOLE):
        made = whole(Random(seed))
        file = read_logger_file(
            made.raw, utc_offset_min=made.utc_offset_min, answers=made.answers
        ).ready()
        assert file.problem_count == 0, (seed, made.recipe, file.problems[:2])
        assert np.array_equal(file.t_s, made.t_s), (seed, made.recipe)
        assert file.head_m == pytest.approx(made.head_m, abs=1e-9, nan_ok=True), (seed, made.recipe)


@pytest.mark.parametrize("batch", range(BATCHES))
def test_broken_files_are_read_or_refused_by_row_and_column(batch):
    read = 0
    for seed in range(batch * BROKEN, (batch + 1) * BROKEN):
        random = Random(1_000_000 + seed)
        raw, answers = broken(random), some_answers(random)
        refused: BadInput | None = None
        try:
            file = read_logger_file(raw, utc_offset_min=720, answers=answers)
            read += 1
            for problem in file.problems:
                assert problem.row >= 1, seed
                assert problem.column, seed
                assert problem.rule, seed
                assert problem.remedy, seed
            assert np.all(np.diff(file.t_s) > 0), seed
            assert file.row.size == file.t_s.size == file.head_m.size, seed
            assert not np.isinf(file.head_m).any(), seed
            assert file.sentence, seed
            file.ready()
        except BadInput as error:
            refused = error
        if refused is not None:
            assert NAMED.match(refused.field), (seed, refused.field)
            assert refused.remedy, seed
    assert read > BROKEN // 4  # the fuzz reaches the reader, not only the door
