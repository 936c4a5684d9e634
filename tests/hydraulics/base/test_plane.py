"""The local plane and distances against published examples and geodesics worked out elsewhere."""

import csv

import numpy as np
import pytest

from app.hydraulics.base import plane
from tests.paths import ROOT

TABLE = (ROOT / "tests/tables/distances.csv").read_text("utf-8")
ROWS = list(csv.DictReader(TABLE.splitlines()))


@pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row['expected']} m {row['source'][:24]}")
def test_ground_distance_vs_published_geodesics(row: dict[str, str]) -> None:
    latitudes = [float(row["latitude_1_deg"]), float(row["latitude_2_deg"])]
    longitudes = [float(row["longitude_1_deg"]), float(row["longitude_2_deg"])]
    found = plane.ground_distance_m(latitudes, longitudes)
    assert found == pytest.approx(float(row["expected"]), abs=float(row["tolerance"]))


@pytest.mark.parametrize("row", [r for r in ROWS if float(r["expected"]) <= 20_001.0])
def test_the_plane_keeps_distances_to_a_part_in_a_thousand_over_20_km(row: dict[str, str]) -> None:
    origin = (float(row["latitude_1_deg"]), float(row["longitude_1_deg"]))
    at = plane.on_plane([float(row["latitude_2_deg"])], [float(row["longitude_2_deg"])], origin)
    assert float(np.hypot(*at[0])) == pytest.approx(float(row["expected"]), rel=1e-5)


def test_topocentric_vs_the_worked_example_of_iogp_guidance_note_7_2() -> None:
    # EPSG method 9837, WGS 84; the figures from memory, they agree to the millimetre given.
    point = (53 + 48 / 60 + 33.82 / 3600, 2 + 7 / 60 + 46.38 / 3600, 73.0)
    found = plane.topocentric(*point, (55.0, 5.0, 200.0))
    assert found[0] == pytest.approx((-189_013.869, -128_642.040, -4_220.171), abs=0.0006)


def test_east_is_to_the_right_and_north_up() -> None:
    at = plane.on_plane([0.0, 0.01], [0.01, 0.0], (0.0, 0.0))
    # a degree of longitude on the equator is a π/180; of latitude there a (1 - e²) π/180
    arc = np.radians(0.01) * plane.SEMI_MAJOR_M
    assert at[0] == pytest.approx([arc, 0.0], abs=0.001)
    assert at[1] == pytest.approx([0.0, arc * (1.0 - plane.ECCENTRICITY2)], abs=0.001)


def test_positions_across_the_180th_meridian_lie_side_by_side() -> None:
    at = plane.on_plane([-17.8, -17.8], [179.99, -179.99], (-17.8, 180.0))
    assert at[0][0] == pytest.approx(-at[1][0])
    assert abs(at[0][0]) < 1100.0


def test_what_lies_on_the_other_side_of_the_earth_is_on_no_plane() -> None:
    at = plane.on_plane([43.5, 0.0], [-7.5, 0.0], (-43.5, 172.5))
    assert np.isnan(at).all()


def test_the_midst_is_not_drawn_away_by_one_position() -> None:
    latitude, longitude = plane.middle(
        [-43.5, -43.51, -43.49, 43.5], [172.5, 172.51, 172.49, 172.5]
    )
    assert latitude == pytest.approx(-43.5, abs=0.02)
    assert longitude == pytest.approx(172.5, abs=0.02)
    alone = plane.middle([61.3], [-149.2])
    assert alone == pytest.approx((61.3, -149.2), abs=1e-9)
