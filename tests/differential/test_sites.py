"""How far a site is and which is nearest, against vector algebra on the same sphere.

The server sorts no sites by distance: what stands against the phone here is the angle between two
unit vectors, atan2(|a x b|, a . b), a general formula of solid geometry.
"""

import itertools
import math
from datetime import UTC, datetime, timedelta

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from app.language.clock import iso
from app.language.typed import refuse_future
from tests.differential.harness import Phone, answered, drawn

EARTH_M = 6_371_000.0
LATITUDE = st.one_of(st.floats(-90, 90), st.sampled_from([0.0, 90.0, -90.0]))
LONGITUDE = st.one_of(st.floats(-180, 180), st.sampled_from([0.0, 180.0, -180.0]))
PLACE = st.fixed_dictionaries({"latitude": LATITUDE, "longitude": LONGITUDE})


def apart_m(a: dict[str, float], b: dict[str, float]) -> float:
    def unit(place: dict[str, float]) -> np.ndarray:
        lat, lon = math.radians(place["latitude"]), math.radians(place["longitude"])
        cos = math.cos(lat)
        return np.array([cos * math.cos(lon), cos * math.sin(lon), math.sin(lat)])

    u, v = unit(a), unit(b)
    return EARTH_M * math.atan2(float(np.linalg.norm(np.cross(u, v))), float(u @ v))


@drawn
@given(a=PLACE, b=PLACE, near=st.booleans(), step=st.floats(-1e-3, 1e-3))
def test_a_distance_on_the_sphere(phone: Phone, a, b, near: bool, step: float) -> None:
    if near:
        b = {"latitude": max(min(a["latitude"] + step, 90), -90), "longitude": a["longitude"]}
    got = phone.ask("nearest.distanceM", a, b)["result"]
    # a metre half round the world, where the haversine loses digits; a millimetre close by
    assert math.isclose(got, apart_m(a, b), rel_tol=1e-7, abs_tol=1.0 if got > 1.9e7 else 1e-3), (
        a,
        b,
    )


@drawn
@given(
    places=st.lists(st.one_of(PLACE, st.just({"latitude": None, "longitude": None})), max_size=5),
    days=st.lists(st.one_of(st.none(), st.integers(0, 9)), min_size=5, max_size=5),
    here=st.one_of(st.none(), PLACE),
)
def test_the_nearest_site_comes_first(phone: Phone, places, days, here) -> None:
    now = datetime(2026, 11, 25, tzinfo=UTC)
    sites = [
        {
            "id": i,
            "name": f"site {i}",
            **place,
            "last_reading_at": None if days[i] is None else iso(now - timedelta(days=days[i])),
        }
        for i, place in enumerate(places)
    ]
    got = phone.ask("order", sites, here)["result"]
    assert sorted(one["id"] for one in got) == list(range(len(sites)))

    def place_of(site):
        known = here is not None and site["latitude"] is not None
        age = days[site["id"]]
        return (
            0 if known else 1,
            round(apart_m(here, site)) if known else 0,
            0 if known else (99 if age is None else age),
        )

    keys = [place_of(sites[one["id"]]) for one in got]
    for before, after in itertools.pairwise(keys):
        assert before <= after or (before[0] == after[0] == 0 and before[1] - after[1] <= 1), keys


@drawn
@given(seconds=st.integers(-(10**9), 10**9), near=st.integers(-2, 2), close=st.booleans())
def test_a_time_lies_ahead_alike(phone: Phone, seconds: int, near: int, close: bool) -> None:
    now = datetime(2026, 11, 25, 9, tzinfo=UTC)
    moment = now + timedelta(seconds=300 + near if close else seconds)
    refused = "error" in answered(lambda: refuse_future("at", moment, now))
    said = phone.ask("ahead.ahead", iso(moment), iso(now))["result"]
    assert bool(said) == refused
