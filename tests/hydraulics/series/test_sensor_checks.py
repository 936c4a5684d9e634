"""Offers from staff minus sensor; the bands are common practice and editable."""

import pytest

from app.errors import BadInput
from app.hydraulics.series.layers import Shape
from app.hydraulics.series.sensor_checks import ACCEPTANCE, Band, Check, acceptance, offer_layers

DAY = 86_400


@pytest.mark.parametrize(
    ("offset_m", "head_m", "key"),  # common practice bands
    [
        (0.002, float("nan"), "fine"),
        (-0.0035, float("nan"), "correct"),
        (0.005, float("nan"), "correct"),
        (0.0051, float("nan"), "find the cause"),
        (0.003, 0.100, "find the cause"),  # 1.5 * 3 % of flow
        (0.0035, 0.400, "fine"),  # within 1 % of the head
        (0.021, 3.0, "fault"),
        (-0.030, 0.2, "fault"),
    ],
)
def test_acceptance_bands(offset_m, head_m, key):
    assert acceptance(offset_m, head_m).key == key


def test_bands_may_be_edited():
    strict = (ACCEPTANCE[0], Band("correct", 0.0005, float("inf"), "correct"))
    assert acceptance(0.001, bands=strict).key == "correct"
    with pytest.raises(BadInput):
        acceptance(0.001, bands=())
    with pytest.raises(BadInput):
        acceptance(float("nan"))


def test_gradual_growth_is_offered_as_a_ramp_from_as_left_to_as_found():
    checks = [Check(60 * DAY, 0.006, 0.0), Check(0, 0.0, 0.0)]  # order does not matter
    (offer,) = offer_layers(checks)
    layer = offer.layer
    assert layer is not None
    assert (layer.shape, layer.amount, layer.amount_end) == (Shape.RAMP, 0.0, 0.006)
    assert (layer.from_s, layer.to_s) == (0, 60 * DAY)
    assert "cleaning" in offer.why


def test_one_step_in_the_record_is_offered_as_a_step():
    checks = [Check(0, 0.0, 0.0), Check(30 * DAY, 0.012, 0.012)]
    (offer,) = offer_layers(checks, steps_s=[10 * DAY, 99 * DAY])
    assert offer.layer is not None
    assert offer.layer.shape is Shape.STEP
    assert offer.layer.at_s == 10 * DAY
    assert offer.alternatives[0].shape is Shape.RAMP


def test_constant_offset_and_no_offer():
    offset, none = offer_layers(
        [Check(0, 0.0, 0.008), Check(DAY, 0.0085, 0.0), Check(2 * DAY, 0.001, 0.001)]
    )
    assert offset.layer is not None
    assert offset.layer.shape is Shape.OFFSET
    assert offset.layer.amount == pytest.approx(0.00825)
    assert none.layer is None
    assert none.band.key == "fine"
    assert offer_layers([Check(0, 0.1, 0.1)]) == []
