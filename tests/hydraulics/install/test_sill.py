"""Choice of a crest against a published example and sums done by hand. Sites are invented."""

from typing import Any

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.channel.sections import Rectangle, Trapezoid
from app.hydraulics.channel.uniform import froude, normal_depth
from app.hydraulics.families.registry import build
from app.hydraulics.install.sill import TailChannel, sill_choice
from app.hydraulics.rating.inverse import discharge_to_head

FLUME = build("parshall", {"size": "1ft"})
FLOWS = [0.01, 0.05, 0.2]


def test_the_lecture_example_of_a_two_foot_flume() -> None:
    # Utah State Univ. BIE 5300/6300 lecture 2 (2005), read: 0.75 m3/s through the 0.61 m flume,
    # head 0.66 m; the floor no deeper than 0.66 x 0.66 = 0.436 m below the high-water line. The
    # lower of the published limits, 0.66, is what the device answers.
    flume = build("parshall", {"size": "2ft"})
    choice = sill_choice(flume, [0.75], tail_levels_m=[10.0], weed_margin_m=0.0)
    assert choice.head_m[0] == pytest.approx(0.66, rel=1e-3)
    assert 10.0 - choice.crest_needed_m == pytest.approx(0.436, rel=2e-3)


def test_the_crest_is_set_by_the_flow_that_needs_it_most() -> None:
    heads, limit = discharge_to_head(FLUME, FLOWS), 0.62
    for tails in ([9.9, 10.0, 10.1], [10.0, 10.02, 10.04]):  # greatest flow governs; least governs
        needs = np.array(tails) + 0.05 - limit * heads
        choice = sill_choice(FLUME, FLOWS, tail_levels_m=tails)
        assert choice.crest_needed_m == pytest.approx(needs.max())
        assert choice.crest_level_m == choice.crest_needed_m
        assert np.all(choice.submergence_weedy <= limit + 1e-9)
        assert choice.submergence_weedy.max() == pytest.approx(limit)
    assert int(np.argmax(needs)) == 0


def test_worked_table() -> None:
    # by hand: heads from C ha^n (0.6909, 1.522); tail 0.10, 0.20, 0.35 m over the bed at 10.00
    tails = [10.10, 10.20, 10.35]
    heads = (np.array(FLOWS) / 0.6909) ** (1 / 1.522)
    choice = sill_choice(
        FLUME,
        FLOWS,
        tail_levels_m=tails,
        crest_level_m=10.15,
        floor_level_m=10.0,
        bank_level_m=10.80,
        approach=Rectangle(0.9),
        channel_slope=0.001,
    )
    assert choice.head_m == pytest.approx(heads, rel=1e-9)
    assert choice.submergence_ratio == pytest.approx([0, 0.05 / heads[1], 0.2 / heads[2]])
    assert choice.submergence_weedy == pytest.approx([0, 0.10 / heads[1], 0.25 / heads[2]])
    assert choice.upstream_level_m == pytest.approx(10.15 + heads)
    assert choice.freeboard_m == pytest.approx(0.65 - heads)
    assert choice.freeboard_needed_m == pytest.approx(np.maximum(0.15, 0.2 * (0.15 + heads)))
    depth = 0.15 + heads
    assert choice.froude == pytest.approx(
        np.array(FLOWS) / (0.9 * depth * np.sqrt(9.80665 * depth))
    )
    assert choice.afflux_m == pytest.approx(10.15 + heads - tails)
    assert choice.backwater_m is not None
    assert choice.backwater_m[1] == pytest.approx(2000 * (10.15 + heads - tails))
    assert choice.verdicts == ("suits", "suits", "suits")
    assert choice.verdict == "suits"
    assert choice.reasons == ((), (), ())


def test_the_highest_crest_just_keeps_the_freeboard() -> None:
    given: dict[str, Any] = {
        "tail_levels_m": [9.0, 9.0, 9.0],
        "bank_level_m": 11.0,
        "approach": Rectangle(2.0),
    }
    for floor in (10.0, 8.0, None):
        highest = sill_choice(FLUME, FLOWS, floor_level_m=floor, **given).crest_highest_m
        for crest, words in ((highest, False), (highest + 0.002, True)):
            choice = sill_choice(FLUME, FLOWS, floor_level_m=floor, crest_level_m=crest, **given)
            short = any("freeboard" in reason for reason in choice.reasons[-1])
            assert short == words, (floor, crest)


def test_reasons_name_what_is_wrong() -> None:
    low = sill_choice(FLUME, FLOWS, tail_levels_m=[10.1, 10.2, 10.4], crest_level_m=10.0)
    assert low.verdict == "does not suit"
    assert "drowns" in low.reasons[2][0]
    weedy = sill_choice(
        FLUME,
        [0.2],
        tail_levels_m=[10.26],
        crest_level_m=10.0,
        bank_level_m=12.0,
        floor_level_m=9.9,
        approach=Rectangle(1.5),
    )
    assert weedy.verdict == "suits with care"
    assert "weed" in weedy.reasons[0][0]
    quick = sill_choice(
        FLUME,
        [0.2],
        tail_levels_m=[9.0],
        crest_level_m=10.0,
        floor_level_m=10.0,
        bank_level_m=12.0,
        approach=Rectangle(0.31),
    )
    assert quick.verdict == "does not suit"
    assert "Froude" in quick.reasons[0][0]
    over = sill_choice(FLUME, [0.2], tail_levels_m=[9.0], crest_level_m=10.0, bank_level_m=10.3)
    assert any("above the bank" in reason for reason in over.reasons[0])


def test_what_is_not_known_is_said() -> None:
    choice = sill_choice(FLUME, [0.05], tail_levels_m=[10.0])
    assert choice.verdict == "suits with care"
    assert choice.reasons[0] == ("bank level not known", "approach not known")
    assert np.isnan(choice.freeboard_m[0])
    assert np.isnan(choice.crest_highest_m)
    assert choice.backwater_m is None


def test_the_crest_never_goes_below_the_bed() -> None:
    choice = sill_choice(FLUME, [0.05], tail_levels_m=[8.0], floor_level_m=10.0)
    assert choice.crest_level_m == pytest.approx(10.0)
    below = sill_choice(FLUME, [0.05], tail_levels_m=[8.0], floor_level_m=10.0, crest_level_m=9.8)
    assert below.verdict == "does not suit"
    assert "below the approach bed" in below.reasons[0][-1]


def test_tail_levels_from_the_channel_below() -> None:
    tail = TailChannel(Trapezoid(0.6, 1.5), 0.03, 0.001, 10.0)
    choice = sill_choice(FLUME, FLOWS, tail=tail, approach=tail.section, floor_level_m=10.02)
    depths = normal_depth(tail.section, FLOWS, 0.03, 0.001)
    assert choice.tail_level_m == pytest.approx(10.0 + depths)
    expected = froude(tail.section, choice.upstream_level_m - 10.02, FLOWS)
    assert choice.froude == pytest.approx(expected)
    assert choice.backwater_m is not None
    assert choice.backwater_m[0] == pytest.approx(choice.afflux_m / 0.001)


@pytest.mark.parametrize(
    ("flows", "given", "field"),
    [
        ([0.0, 0.1], {"tail_levels_m": [1.0, 1.0]}, "discharge_m3s"),
        ([0.1], {}, "tail_levels_m"),
        ([0.1, 0.2], {"tail_levels_m": [1.0]}, "tail_levels_m"),
        ([90.0], {"tail_levels_m": [1.0]}, "discharge_m3s"),
    ],
)
def test_impossible_plans_are_refused(
    flows: list[float], given: dict[str, Any], field: str
) -> None:
    with pytest.raises(BadInput) as refusal:
        sill_choice(FLUME, flows, **given)
    assert refusal.value.field == field
