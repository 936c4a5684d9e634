"""The map: sites to scale, state by shape, distances, lines of one's own with their trail."""

import json
import math
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session, col, select

from app.records.audit import AuditEntry
from app.records.maps import RaceLine
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.map import drawing
from app.services.map.lines import lines
from app.services.map.places import places
from app.services.today.board import board
from tests.conftest import a_reading, send

HTML = {"accept": "text/html"}
NOW = datetime.now(UTC)
RACE = {
    "type": "FeatureCollection",
    "features": [
        {
            "type": "Feature",
            "properties": {},
            "geometry": {
                "type": "LineString",
                "coordinates": [[172.50, -43.50], [172.51, -43.49], [172.53, -43.49]],
            },
        }
    ],
}


def placed(session: Session, code: str, latitude: float | None, longitude: float | None) -> Site:
    site = Site(
        code=code, name=f"{code} (invented)", latitude=latitude, longitude=longitude,
        utc_offset_min=720,
    )  # fmt: skip
    session.add(site)
    session.commit()
    return site


def bring(client: TestClient, content: object = RACE, name: str = "Race", status: int = 303) -> str:
    body = content if isinstance(content, bytes) else json.dumps(content).encode()
    answer = client.post(
        "/map/lines",
        data={"name": name},
        files={"file": ("race.geojson", body, "application/geo+json")},
        headers=HTML,
    )
    assert answer.status_code == status, answer.text
    return answer.text


def test_an_empty_map_says_what_to_do(as_office: TestClient, session: Session) -> None:
    assert "Make the first one" in as_office.get("/map", headers=HTML).text
    placed(session, "BARE", None, None)
    text = as_office.get("/map", headers=HTML).text
    assert "No site has a position yet" in text
    assert "no position" in text
    assert as_office.get("/map.json").json()["rows"][0]["place"] == "no position"


def test_positions_are_to_scale(session: Session) -> None:
    """A square of one kilometre stays one, whatever the latitude."""
    north = math.degrees(1000.0 / 6_370_000.0)
    east = north / math.cos(math.radians(-43.5))
    for code, up, right in (("A", 0, 0), ("B", 1, 0), ("C", 0, 1), ("D", 1, 1)):
        placed(session, code, -43.5 + up * north, 172.5 + right * east)
    sheet = drawing.sheet(places(board(session, NOW), []))
    assert sheet is not None
    at = {mark.name: (mark.x, mark.y) for mark in sheet.marks}
    up_m = (at["A"][1] - at["B"][1]) * sheet.scale
    right_m = (at["C"][0] - at["A"][0]) * sheet.scale
    assert up_m == pytest.approx(1000.0, rel=0.005)
    assert right_m == pytest.approx(1000.0, rel=0.005)
    (x0, _), (x1, _) = sheet.bar
    assert (x1 - x0) * sheet.scale == pytest.approx(sheet.grid_m, rel=0.005)
    assert drawing.words_of(sheet.grid_m) == sheet.bar_words


def test_the_state_is_told_by_shape(
    session: Session, as_office: TestClient, a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
) -> None:  # fmt: skip
    structure, person = a_site(), a_person()
    site = session.get(Site, structure.site_id)
    assert site is not None
    site.latitude, site.longitude = -43.5, 172.5
    placed(session, "BARE", -43.51, 172.51)
    free = a_reading(structure, person, at=NOW - timedelta(days=1), tail_state="clearly_free")
    send(session, person, free)
    sheet = drawing.sheet(places(board(session, NOW), []))
    assert sheet is not None
    codes = {mark.name: (mark.code, mark.old) for mark in sheet.marks}
    assert codes == {"TANSY": (0, False), "BARE": (drawing.NOTHING, True)}
    text = as_office.get("/map", headers=HTML).text
    for _, words in drawing.LEGEND:
        assert words in text
    assert "BARE (invented): nothing on record" in text
    assert not re.findall(r'(?:href|src|action)="(?:https?:)?//', text), "it links out to nothing"


def test_two_sites_and_how_far(as_crew: TestClient, session: Session) -> None:
    one = placed(session, "A", -43.5, 172.5)
    other = placed(session, "B", -43.319983178, 172.5)  # 20 km north by geographiclib 2.1
    lost = placed(session, "C", None, None)
    text = as_crew.get(f"/map?one={one.id}&other={other.id}", headers=HTML).text
    assert "<strong>20 km</strong>" in text
    assert (
        "unknown, because a position is missing"
        in as_crew.get(f"/map?one={one.id}&other={lost.id}", headers=HTML).text
    )
    for query in (f"one={one.id}&other={one.id}", f"one={one.id}&other=9999", "one=x&other=1"):
        assert as_crew.get(f"/map?{query}", headers=HTML).status_code == 422, query


def test_a_site_far_away_is_listed_and_does_not_shrink_the_rest(
    as_office: TestClient, session: Session
) -> None:
    for k in range(3):
        placed(session, f"S{k}", -43.5 + 0.01 * k, 172.5)
    placed(session, "SLIP", 43.5, 172.5)
    rows = {row["code"]: row for row in as_office.get("/map.json").json()["rows"]}
    assert rows["SLIP"]["place"] == "too far from the others"
    assert rows["SLIP"]["east_m"] is None
    assert [rows[f"S{k}"]["place"] for k in range(3)] == ["drawn"] * 3
    assert "Farther than 100 km" in as_office.get("/map", headers=HTML).text


def test_a_line_is_kept_drawn_and_in_the_trail(as_office: TestClient, session: Session) -> None:
    placed(session, "A", -43.5, 172.5)
    bring(as_office)
    bring(as_office)  # the same file again is there already
    row = session.exec(select(RaceLine)).one()
    assert row.parts[0][0] == [172.5, -43.5]
    line = session.exec(select(AuditEntry).where(AuditEntry.subject == "race_line")).one()
    assert line.after is not None
    assert line.after["positions"] == 3
    text = as_office.get("/map", headers=HTML).text
    assert text.count("<polyline") == 2, "the line and the white edge under it"
    listed = as_office.get("/map/lines.json").json()["rows"]
    # 1374.26 m and 1617.80 m by geographiclib 2.1 (WGS 84)
    assert listed[0]["length_m"] == pytest.approx(2992.06, abs=0.02)


def test_a_line_is_taken_off_with_a_reason_and_stays_on_record(
    as_office: TestClient, session: Session
) -> None:
    bring(as_office)
    assert as_office.post("/map/lines/1/take-off", data={}, headers=HTML).status_code == 422
    done = as_office.post("/map/lines/1/take-off", data={"reason": "old survey"})
    assert done.status_code == 303
    again = as_office.post("/map/lines/1/take-off", data={"reason": "twice"}, headers=HTML)
    assert again.status_code == 422
    assert as_office.post("/map/lines/77/take-off", data={"reason": "x"}).status_code == 404
    view = lines(session)[0]
    assert view.withdraw_reason == "old survey"
    session.rollback()  # SQLite has one writer
    assert "<polyline" not in as_office.get("/map", headers=HTML).text
    actions = session.exec(
        select(AuditEntry.action).where(col(AuditEntry.subject) == "race_line")
    ).all()
    assert list(actions) == ["line added to the map", "line taken off the map"]
    session.rollback()
    bring(as_office)  # may come back
    assert len(lines(session)) == 2


def test_a_bad_file_is_refused_with_the_place_and_nothing_is_kept(
    as_office: TestClient, session: Session
) -> None:
    bad = json.loads(json.dumps(RACE))
    bad["features"][0]["geometry"]["coordinates"][2] = [-43.49, 172.53]
    text = bring(as_office, bad, "Upper race", 422)
    assert "features[0].geometry.coordinates[2]" in text.casefold()
    assert 'value="Upper race"' in text, "what was typed is kept"
    bring(as_office, RACE, "", 422)
    bring(as_office, b"", "Empty", 422)
    answer = as_office.post("/map/lines", data={"name": "None"}, headers=HTML)
    assert answer.status_code == 422
    assert session.exec(select(RaceLine)).all() == []


def test_crew_look_and_change_nothing(as_crew: TestClient, session: Session) -> None:
    placed(session, "A", -43.5, 172.5)
    text = as_crew.get("/map", headers=HTML).text
    assert "Bring a line" not in text
    files = {"file": ("race.geojson", json.dumps(RACE).encode(), "application/geo+json")}
    assert as_crew.post("/map/lines", data={"name": "x"}, files=files).status_code == 403


def test_labels_do_not_cover_each_other_with_300_sites(session: Session) -> None:
    for k in range(300):
        session.add(
            Site(
                code=f"S{k:03d}", name=f"Site {k} (invented)", utc_offset_min=720,
                latitude=-43.5 + 0.001 * (k // 20), longitude=172.5 + 0.001 * (k % 20),
            )
        )  # fmt: skip
    session.commit()
    sheet = drawing.sheet(places(board(session, NOW), []))
    assert sheet is not None
    assert len(sheet.marks) == 300
    boxes = [
        (m.label[0], m.label[1] - 12, m.label[0] + 7.4 * len(m.name), m.label[1] + 3)
        for m in sheet.marks
        if m.label
    ]
    assert boxes
    for k, one in enumerate(boxes):
        for other in boxes[k + 1 :]:
            apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1]
            assert apart or other[3] <= one[1]
