"""Shapes, refusals and budgets of `rate`, beside what holds for every family."""

from typing import Any

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.families.registry import build, family
from app.hydraulics.rating.rate import rate
from app.hydraulics.rating.submergence import WARN_SUBMERGENCE
from app.hydraulics.structure.bounds import CORRECTED_TO
from app.hydraulics.structure.device import Flag, Flow, flag_words

FLUME = build("parshall", {"size": "1ft"})


@pytest.mark.parametrize("shape", [(), (0,), (1,), (3, 4), (2, 1, 3)])
def test_answers_have_the_shape_of_the_heads(shape: tuple[int, ...]) -> None:
    rated = rate(FLUME, np.full(shape, 0.3), np.full(shape, 0.25))
    arrays: list[Any] = [
        rated.discharge_m3s,
        rated.uncertainty_pct,
        rated.submergence_ratio,
        rated.flow,
    ]
    arrays += [rated.flags, rated.head_m, rated.tailwater_m]
    arrays += [*rated.parts.values(), *rated.detail.values()]
    assert {a.shape for a in arrays} == {shape}


def test_heads_tails_and_uncertainties_broadcast() -> None:
    rated = rate(FLUME, np.full((2, 1), 0.3), [0.1, 0.2, 0.25], [[0.002], [0.004]])
    assert rated.discharge_m3s.shape == (2, 3)
    free = rated.parts["head"][:, 0]
    assert free[1] == pytest.approx(2 * free[0])


@pytest.mark.parametrize("spread", [-0.001, np.nan, [0.001, np.inf]])
def test_an_impossible_uncertainty_is_refused(spread: float) -> None:
    with pytest.raises(BadInput) as refused:
        rate(FLUME, [0.3, 0.3], head_uncertainty_m=spread)
    assert refused.value.field == "head_uncertainty_m"


def test_heads_are_left_as_given() -> None:
    heads, tails = np.array([0.3, np.nan, -0.1]), np.array([0.2, 0.1, np.nan])
    before = heads.copy(), tails.copy()
    rate(FLUME, heads, tails)
    np.testing.assert_array_equal(heads, before[0])
    np.testing.assert_array_equal(tails, before[1])


def test_doubt_about_the_submergence_leaves_it_assumed_free() -> None:
    """S + U_S, U_S = S sqrt((U/hb)^2 + (U/ha)^2), must stay under the limit to be called free."""
    head, limit = 0.3, 0.62
    ratio = limit - 0.01
    assert Flow(rate(FLUME, head, ratio * head, 0.0005).flow.item()) is Flow.FREE
    doubtful = rate(FLUME, head, ratio * head, 0.004)
    assert Flow(doubtful.flow.item()) is Flow.ASSUMED_FREE
    assert flag_words(doubtful.flags.item()) == ["near the modular limit"]
    assert doubtful.discharge_m3s == rate(FLUME, head).discharge_m3s


def test_heads_too_close_to_tell_apart_are_not_corrected() -> None:
    rated = rate(FLUME, 0.06, 0.055, 0.003)
    assert Flow(rated.flow.item()) is Flow.SUBMERGED_UNDETERMINED
    assert rated.flags & Flag.HEADS_TOO_CLOSE
    assert np.isfinite(rate(FLUME, 0.06, 0.055, 0.001).discharge_m3s)


def test_tailwater_a_little_above_is_undetermined_and_clearly_above_is_refused() -> None:
    near, above = rate(FLUME, 0.3, 0.302, 0.003), rate(FLUME, 0.3, 0.31, 0.003)
    assert Flow(near.flow.item()) is Flow.SUBMERGED_UNDETERMINED
    assert Flow(above.flow.item()) is Flow.NOT_RATED
    assert above.flags & Flag.TAILWATER_ABOVE_HEAD
    below_zero = rate(FLUME, -0.02, 0.1, 0.003)
    assert below_zero.flags & Flag.TAILWATER_ABOVE_HEAD
    assert np.isnan(below_zero.discharge_m3s)


def test_warned_above_090_and_refused_above_095() -> None:
    ratios = np.array([0.895, 0.905, 0.949, 0.951])
    rated = rate(FLUME, 0.5, 0.5 * ratios, 0.001)
    warned = (rated.flags & Flag.HIGH_SUBMERGENCE) > 0
    assert list(warned) == [False, True, True, True]
    assert list(np.isnan(rated.discharge_m3s)) == [False, False, False, True]
    assert (WARN_SUBMERGENCE, CORRECTED_TO) == (0.90, 0.95)
    assert Flow(rated.flow[3]) is Flow.SUBMERGED_UNDETERMINED
    assert rated.detail["free_discharge_m3s"][3] > rated.discharge_m3s[2]


def test_drowned_sensitivities_as_worked() -> None:
    """S f'/f of 1, 2 and 4 ft at S 0.8 and 0.9: 1.0, 0.85, 0.76 and 2.3, 2.0, 1.8 (derived)."""
    for size, low, high in (("1ft", 1.0, 2.3), ("2ft", 0.85, 2.0), ("4ft", 0.76, 1.8)):
        device = build("parshall", {"size": size})
        for ratio, weight in ((0.8, low), (0.9, high)):
            tail_only = rate(
                device, 0.45, 0.45 * ratio, 0.0, tailwater_uncertainty_m=0.0045 * ratio
            )
            assert float(tail_only.parts["head"]) == pytest.approx(weight, rel=0.04)


def test_budget_can_weigh_the_tailwater_apart() -> None:
    same = rate(FLUME, 0.45, 0.38, 0.003)
    apart = rate(FLUME, 0.45, 0.38, 0.003, tailwater_uncertainty_m=0.010)
    assert apart.parts["head"] > same.parts["head"]
    assert apart.discharge_m3s == same.discharge_m3s


def test_flow_and_flag_words() -> None:
    assert [state.word for state in Flow] == [
        "free",
        "assumed free",
        "submerged, corrected",
        "submerged, not determined",
        "no flow",
        "not rated",
    ]
    every = [flag_words(flag) for flag in Flag]
    assert all(len(words) == 1 for words in every)
    assert flag_words(0) == []


def test_an_unknown_family_is_refused_with_the_list() -> None:
    with pytest.raises(BadInput, match="parshall"):
        family("venturi")
    assert family("Long-Throat").key == "long_throat"
