"""Points of a calibration that tell nothing are refused, not divided by nought."""

import pytest

from app.errors import BadInput
from app.hydraulics.gauging.tracer import calibration_factor


@pytest.mark.parametrize("salt", [0.0, 0.1, 20.0])
def test_the_same_concentration_each_time(salt: float) -> None:
    with pytest.raises(BadInput, match="concentration never changed"):
        calibration_factor([salt] * 3, [80.1, 93.7, 121.3])


def test_the_same_conductivity_each_time() -> None:
    with pytest.raises(BadInput, match="conductivity never changed"):
        calibration_factor([0.0, 20.0, 40.0], [80.1, 80.1, 80.1])
