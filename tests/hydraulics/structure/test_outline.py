"""The picture of every family agrees with its dimensions; the table of Parshall dimensions holds.

Parshall: walls from the geometry of the converging section, and A = W/2 + 4 ft for 1 to 8 ft with
the tap at two thirds of it (USBR Water Measurement Manual ch. 8, from memory).
"""

import math

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.families.parshall.outline import MEASURES
from app.hydraulics.families.parshall.sizes import US_SIZES
from app.hydraulics.families.registry import build
from app.hydraulics.install.checks import TOLERANCE_RULES
from app.hydraulics.structure.device import Device
from tests.hydraulics.registry import devices, name

FOOT_MM = 304.8


@pytest.mark.parametrize("device", devices(), ids=name)
def test_a_picture_names_only_its_own_parts_and_dimensions(device: Device) -> None:
    outline = device.outline()
    if outline is None:
        assert "own" in device.family.name
        return
    keys = [part.key for part in outline.parts]
    assert len(set(keys)) == len(keys)
    assert all(part.named_m > 0 and part.rule in TOLERANCE_RULES for part in outline.parts)
    marked = {m.key for view in outline.views for m in view.measures}
    assert marked
    assert marked <= set(keys)
    own = {d.key for d in device.family.dimensions}
    assert {part.rated_as for part in outline.parts if part.rated_as} <= own
    points = [p for v in outline.views for line in v.lines for p in line.points]
    assert np.isfinite(points).all()
    assert any(view.along for view in outline.views) or len(outline.views) == 1


@pytest.mark.parametrize("device", devices(), ids=name)
def test_a_measure_is_as_long_as_its_part_says(device: Device) -> None:
    """Every straight dimension drawn has its named length, to the rounding of the tables."""
    outline = device.outline()
    for view in outline.views if outline else ():
        for mark in view.measures:
            part = next(p for p in outline.parts if p.key == mark.key)  # type: ignore[union-attr]
            drawn = math.dist(mark.start, mark.end)
            assert drawn == pytest.approx(part.named_m, rel=0.006), (mark.key, view.title)


@pytest.mark.parametrize("size", MEASURES)
def test_parshall_walls_close(size: str) -> None:
    m, width = MEASURES[size], US_SIZES[size].width_m * 1000.0
    if m.A is not None:
        assert math.hypot(m.B, (m.D - width) / 2.0) == pytest.approx(m.A, abs=3.0)
        assert m.a == pytest.approx(2.0 * m.A / 3.0, abs=1.0)
    if size.endswith("ft") and 1.0 <= width / FOOT_MM <= 8.1:
        assert pytest.approx(width / 2.0 + 4.0 * FOOT_MM, abs=1.0) == m.A


def test_a_built_throat_changes_the_discharge_by_its_share() -> None:
    """Q = 4 W h^n: at one exponent discharge is proportional to the throat width (derived)."""
    head = np.array([0.1, 0.3])
    named = build("parshall", {"size": "1ft"})
    built = build("parshall", {"size": "1ft", "W_built": 0.3063})
    ratio = built.free_flow(head).discharge_m3s / named.free_flow(head).discharge_m3s
    assert ratio == pytest.approx(0.3063 / 0.3048)
    assert "0.3063 m as built" in built.describe()


def test_a_throat_of_no_size_is_refused() -> None:
    with pytest.raises(BadInput) as refused:
        build("parshall", {"size": "1ft", "W_built": 0.32})
    assert refused.value.field == "W_built"
    assert "rating of its own" in refused.value.remedy


def test_cutthroat_entrance_from_the_walls() -> None:
    """B = W + L/4.5 (Skogerboe et al. 1973; walls 3:1 over a third of the length)."""
    outline = build("cutthroat", {"size": "3ftx8in"}).outline()
    assert outline is not None
    parts = {part.key: part.named_m for part in outline.parts}
    assert parts["B1"] == pytest.approx(parts["W"] + parts["L"] / 4.5)
    assert parts["B1"] == pytest.approx(parts["B2"])
