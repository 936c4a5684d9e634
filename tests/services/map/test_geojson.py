"""Lines from GeoJSON: the objects of RFC 7946, and each fault with its place in the file."""

import json
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.errors import BadInput
from app.services.map.geojson import MOST_POSITIONS, lines_of

LINE = {"type": "LineString", "coordinates": [[172.5, -43.5], [172.51, -43.49, 88.2]]}
# RFC 7946, appendix A.2 "LineStrings" and A.5 "MultiLineStrings"
A2 = {"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}
A5 = {
    "type": "MultiLineString",
    "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]],
}


def feature(geometry: object, **other: object) -> dict[str, Any]:
    return {"type": "Feature", "properties": {"name": "Race"}, "geometry": geometry, **other}


def collection(*geometries: object) -> dict[str, Any]:
    return {"type": "FeatureCollection", "features": [feature(x) for x in geometries]}


def read(thing: object) -> list[list[list[float]]]:
    return lines_of(json.dumps(thing).encode())


def test_the_examples_of_the_standard() -> None:
    assert read(A2) == [[[100.0, 0.0], [101.0, 1.0]]]
    assert read(A5) == [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]]
    # appendix A.7 without its point
    assert read({"type": "GeometryCollection", "geometries": [A2]}) == read(A2)


def test_lines_wherever_they_stand_and_heights_passed_over() -> None:
    found = read(collection(LINE, A5, None, {"type": "GeometryCollection", "geometries": [LINE]}))
    assert len(found) == 4
    assert found[0] == [[172.5, -43.5], [172.51, -43.49]]


def test_a_byte_order_mark_and_an_old_name_of_the_same_system_are_fine() -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    assert lines_of(b"\xef\xbb\xbf" + json.dumps({**LINE, "crs": crs}).encode())


FAULTS: list[tuple[object, str]] = [
    ([], "file"),
    ({"type": "Lines"}, "type"),
    ({}, "type"),
    ({"type": "LineString"}, "coordinates"),
    ({"type": "LineString", "coordinates": [[1, 2]]}, "coordinates"),
    ({"type": "LineString", "coordinates": [[1, 2], [3]]}, "coordinates[1]"),
    ({"type": "LineString", "coordinates": [[1, 2], [3, "4"]]}, "coordinates[1]"),
    ({"type": "LineString", "coordinates": [[1, 2], [3, True]]}, "coordinates[1]"),
    ({"type": "LineString", "coordinates": [[1, 2], [3, None]]}, "coordinates[1]"),
    ({"type": "LineString", "coordinates": [[1, 2], [3, 10**400]]}, "coordinates[1]"),
    ({"type": "LineString", "coordinates": [[1, 2], [-43.5, 172.5]]}, "coordinates[1]"),
    ({"type": "LineString", "coordinates": [[1570000, 5180000], [1, 2]]}, "coordinates[0]"),
    ({"type": "LineString", "coordinates": [[179.9, 1], [-179.9, 1]]}, "coordinates[1]"),
    ({"type": "MultiLineString", "coordinates": [[[1, 2], [3, 4]], 5]}, "coordinates[1]"),
    ({"type": "MultiLineString", "coordinates": [[[1, 2], [3]]]}, "coordinates[0][1]"),
    ({"type": "MultiLineString", "coordinates": []}, "file"),
    ({"type": "FeatureCollection", "features": []}, "file"),
    ({"type": "FeatureCollection", "features": [LINE]}, "features[0]"),
    ({"type": "FeatureCollection", "features": {}}, "features"),
    ({"type": "Feature", "properties": {}}, "geometry"),
    (feature("here"), "geometry"),
    (feature({"type": "Point", "coordinates": [1, 2]}), "geometry.type"),
    (collection(LINE, {"type": "Polygon", "coordinates": []}), "features[1].geometry.type"),
    (
        collection(LINE, LINE, {"type": "LineString", "coordinates": [[1, 2], [3, 91]]}),
        "features[2].geometry.coordinates[1]",
    ),
    (
        collection({"type": "GeometryCollection", "geometries": [LINE, 7]}),
        "features[0].geometry.geometries[1]",
    ),
    ({**LINE, "crs": {"type": "name", "properties": {"name": "EPSG:2193"}}}, "crs"),
]


@pytest.mark.parametrize(("thing", "place"), FAULTS, ids=lambda x: str(x)[:60])
def test_a_fault_is_refused_with_its_place(thing: object, place: str) -> None:
    with pytest.raises(BadInput) as refused:
        read(thing)
    assert refused.value.field == place
    assert refused.value.rule
    assert refused.value.remedy


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"   ",
        b"{",
        b"\xff\xfe{",
        b'{"type": "LineString", "coordinates": [[NaN, 1], [1, 2]]}',
        b'{"type": "LineString", "coordinates": [[1e999, 1], [1, 2]]}',
        b"[" * 100_000,
        b'{"type":"GeometryCollection","geometries":[' * 20_000,
        b'{"type":"GeometryCollection","geometries":[' * 300 + b"]}" * 300,
        b"9" * 5000,
    ],
    ids=range(10),
)
def test_what_is_no_json_of_lines_is_refused(content: bytes) -> None:
    with pytest.raises(BadInput):
        lines_of(content)


def test_a_cut_file_names_line_and_column() -> None:
    with pytest.raises(BadInput) as refused:
        lines_of(json.dumps(LINE, indent=1).encode()[:-4])
    assert str(refused.value.value).startswith("line ")


def test_too_many_positions_are_refused() -> None:
    many = [[k / 1000.0, 0.0] for k in range(MOST_POSITIONS + 1)]
    with pytest.raises(BadInput, match="positions"):
        read({"type": "LineString", "coordinates": many})


JSONS = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda x: (
        st.lists(x, max_size=3)
        | st.dictionaries(
            st.sampled_from(["type", "coordinates", "features", "geometry", "geometries", "crs"]), x
        )
    ),
    max_leaves=12,
)


@settings(max_examples=300, deadline=None)
@given(
    thing=JSONS,
    kind=st.sampled_from(
        ["LineString", "MultiLineString", "Feature", "FeatureCollection", "GeometryCollection"]
    ),
)
def test_anything_is_lines_or_a_refusal(thing: object, kind: str) -> None:
    whole = {"type": kind, **(thing if isinstance(thing, dict) else {"coordinates": thing})}
    try:
        found = read({**whole, "type": kind})
    except BadInput:
        return
    assert all(len(line) >= 2 for line in found)
    assert all(abs(x) <= 180 and abs(y) <= 90 for line in found for x, y in line)
