"""No jump of uncertainty is lost in the table that goes to the phone."""

import numpy as np
import pytest

from app.hydraulics.families.registry import DEVICES
from app.hydraulics.rating.curve import phone_table
from app.hydraulics.rating.rate import rate


@pytest.mark.parametrize("family", DEVICES.values(), ids=lambda family: family.key)
def test_the_phone_table_keeps_the_steps_of_the_uncertainty(family: object) -> None:
    device = family.build(family.example)  # type: ignore[attr-defined]
    table = phone_table(device)
    nodes = np.asarray(table["heads_m"])
    heads = np.geomspace(max(nodes[0], 0.5 * device.head_min_m) * 1.0001, nodes[-1] * 0.9999, 1500)
    rated = rate(device, heads, None, 0.003)
    pct = np.interp(np.log(heads), np.log(nodes), table["device_pct"])
    slope = np.interp(np.log(heads), np.log(nodes), table["exponent"])
    over = np.log(heads - table["cease_to_flow_m"])
    low, high = (
        np.log(table[f"head_{end}_m"] - table["cease_to_flow_m"]) for end in ("min", "max")
    )
    outside = (
        100.0 * table["range_exponent"] * np.clip(np.maximum(low - over, over - high), 0, None)
    )
    phone = np.sqrt(pct**2 + (100.0 * slope * 0.003 / heads) ** 2 + outside**2)
    known = np.isfinite(rated.uncertainty_pct)
    assert np.abs(phone / rated.uncertainty_pct - 1.0)[known].max() < 2e-3
