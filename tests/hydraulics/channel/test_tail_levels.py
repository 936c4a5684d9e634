"""Tail levels between surveyed flows against Manning's equation, and what is refused.

Chow 1959, Open-Channel Hydraulics, ch. 5 (from memory): in a wide channel depth goes as Q^(3/5).
"""

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.channel.sections import Rectangle
from app.hydraulics.channel.tail_levels import tail_levels
from app.hydraulics.channel.uniform import normal_depth

WIDE = Rectangle(60.0)


def test_surveyed_levels_come_back_and_between_follow_uniform_flow() -> None:
    known = np.array([1.0, 4.0, 16.0])
    depth = normal_depth(WIDE, known, 0.03, 0.001)
    asked = np.array([1.0, 2.0, 8.0, 16.0, 32.0])
    found, beyond = tail_levels(known, 98.0 + depth, 98.0, asked)
    assert found - 98.0 == pytest.approx(normal_depth(WIDE, asked, 0.03, 0.001), rel=2e-3)
    assert beyond.tolist() == [False, False, False, False, True]


def test_one_pair_goes_on_with_three_fifths() -> None:
    found, beyond = tail_levels([0.1], [50.4], 50.0, [0.2])
    assert found[0] == pytest.approx(50.0 + 0.4 * 2**0.6)
    assert beyond[0]


@pytest.mark.parametrize(
    ("flows", "levels"),
    [([], []), ([0.1, 0.2], [50.2]), ([0.0], [50.2]), ([0.1], [49.9]),
     ([0.1, 0.2], [50.4, 50.3]), ([0.1, 0.1], [50.2, 50.3])],
)  # fmt: skip
def test_what_makes_no_tail_is_refused(flows: list[float], levels: list[float]) -> None:
    with pytest.raises(BadInput) as refused:
        tail_levels(flows, levels, 50.0, [0.1])
    assert refused.value.field == "tail_levels"
    assert refused.value.remedy
