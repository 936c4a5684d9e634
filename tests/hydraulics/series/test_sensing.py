"""Sensor sums against worked rows."""

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.base.units import PRESSURE_PA
from app.hydraulics.series.sensing import depth_m, distance_m, gauge_pressure_pa
from tests.hydraulics.series.test_daily import agrees, rows


@pytest.mark.parametrize("row", rows("head_submerged"))
def test_pressure_of_the_practice_table(row):
    g = row["given"]
    assert g["g"] == 9.80665
    kpa = g.get("pressure_kPa", g.get("baro_rise_kPa"))
    assert agrees(row, depth_m(kpa * PRESSURE_PA["kPa"], density_kg_m3=g["rho"])[()])


@pytest.mark.parametrize("row", rows("head_ultrasonic"))
def test_ultrasonic_of_the_practice_table(row):
    g = row["given"]
    # what the sensor reports, computing at the assumed temperature, and what we make of it
    reported = g["distance_m"] * np.sqrt((273.15 + g["assumed_air_C"]) / (273.15 + g["true_air_C"]))
    true = distance_m(reported, g["true_air_C"], assumed_air_c=g["assumed_air_C"])[()]
    assert agrees(row, 1000.0 * (reported - true))
    assert true == pytest.approx(g["distance_m"])


def test_psi_is_the_pound_force_on_a_square_inch():
    assert PRESSURE_PA["psi"] == pytest.approx(6894.757293, rel=1e-9)  # NIST SP 811, from memory


def test_missing_barometer_makes_the_depth_missing():
    got = depth_m(gauge_pressure_pa([101_000.0, 102_000.0], [np.nan, 101_000.0]))
    assert np.isnan(got[0])
    assert got[1] == pytest.approx(0.10197162)


def test_impossible_density_and_temperature_are_refused():
    with pytest.raises(BadInput, match="density"):
        depth_m(10.0, density_kg_m3=1.0)
    with pytest.raises(BadInput, match="air temperature"):
        distance_m(1.0, 293.15)
    assert np.isnan(distance_m(1.0, np.nan))
