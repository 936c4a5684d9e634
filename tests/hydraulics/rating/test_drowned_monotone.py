"""A drowned flow never rises with its tailwater: every family, size, head and ratio.

Source: physics (a higher tailwater cannot add flow); the fitted form of Skogerboe et al. 1967 turns
at S = 0.9435 for the widest flumes, found here by scipy.
"""

from typing import Any

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from app.hydraulics.families.parshall.device import Parshall, drowned_shape
from app.hydraulics.families.parshall.sizes import SIZES
from app.hydraulics.families.registry import DEVICES, build
from app.hydraulics.rating.curve import interpolate, phone_table
from app.hydraulics.rating.rate import rate
from app.hydraulics.structure.device import Flow

RATIOS = np.unique(np.concatenate((np.linspace(0.02, 0.95, 300), np.linspace(0.92, 0.95, 121))))


def everything() -> list[tuple[str, dict[str, Any]]]:
    found: list[tuple[str, dict[str, Any]]] = []
    for key, family in DEVICES.items():
        for size in [*family.sizes] or [""]:
            dims = {**family.example, "size": size} if size else dict(family.example)
            if build(key, dims).correction:
                found.append((key, dims))
    return found


@pytest.mark.parametrize(("family", "dims"), everything(), ids=lambda each: str(each))
def test_discharge_never_rises_with_the_tailwater(family: str, dims: dict[str, Any]) -> None:
    device = build(family, dims)
    table = phone_table(device)
    for head in np.geomspace(max(device.head_min_m, 0.02), device.head_max_m, 12):
        heads = np.full(RATIOS.shape, head)
        said = rate(device, heads, RATIOS * head, np.full(RATIOS.shape, 1e-6))
        known = np.isfinite(said.discharge_m3s)
        steps = np.diff(said.discharge_m3s[known]) / said.discharge_m3s[known][0]
        assert steps.max(initial=0.0) <= 1e-12, (head, RATIOS[known][1:][steps.argmax()])
        if head <= table["heads_m"][-1]:
            by_phone = interpolate(table, heads, RATIOS * head)
            there = np.isfinite(by_phone)
            assert (np.diff(by_phone[there]) / by_phone[there][0]).max(initial=0.0) <= 1e-9


@pytest.mark.parametrize("size", SIZES)
def test_the_form_is_held_where_it_turns(size: str) -> None:
    device = build("parshall", {"size": size})
    assert isinstance(device, Parshall)
    one = device.size
    least = minimize_scalar(
        lambda s: float(drowned_shape(np.asarray(s), one.n1, one.n2)), bounds=(0.8, 0.985),
        method="bounded", options={"xatol": 1e-10},
    ).x  # fmt: skip
    assert device.held_at == pytest.approx(least, abs=1e-5)


def test_where_it_is_held_the_head_keeps_its_share() -> None:
    device = build("parshall", {"size": "20ft"})
    head = np.array([0.4, 0.8, 1.6])
    said = rate(device, head, 0.948 * head, np.full(3, 0.003))
    assert (said.flow == Flow.SUBMERGED_CORRECTED).all()
    np.testing.assert_allclose(said.parts["head"], 100.0 * 1.6 * 0.003 / head, rtol=1e-6)
    # and the discharge still follows the head
    free = rate(device, head, None, np.full(3, 0.003))
    np.testing.assert_allclose(
        said.discharge_m3s / free.discharge_m3s, np.full(3, 0.8949), rtol=2e-3
    )


def test_an_uncertain_onset_widens_before_the_limit() -> None:
    # Torres & Merkley 2007, abstract: the onset of a cutthroat flume varies with the flow
    device = build("cutthroat", {"size": "3ftx8in"})
    limit, head = 0.65, np.full(6, 0.25)
    ratio = np.array([0.58, 0.605, 0.625, 0.645, 0.6499, 0.6501])
    said = rate(device, head, ratio * head, np.full(6, 1e-5))
    free = rate(device, head[:1], None, np.full(1, 1e-5)).uncertainty_pct[0]
    assert limit == float(device.modular_limit(head)[0])
    assert [Flow(int(f)) for f in said.flow] == [
        Flow.FREE, *[Flow.ASSUMED_FREE] * 4, Flow.SUBMERGED_CORRECTED,
    ]  # fmt: skip
    assert said.uncertainty_pct[0] == pytest.approx(free)
    assert (np.diff(said.uncertainty_pct) > 0.0).all()
    assert said.uncertainty_pct[4] == pytest.approx(said.uncertainty_pct[5], rel=0.01)
    assert phone_table(device)["modular_limit_band"] == 0.05
    assert "modular_limit_band" not in phone_table(build("parshall", {"size": "1ft"}))
