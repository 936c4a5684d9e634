"""Pages of sites and structures: forms that keep what was typed, lists, who may do what."""

import re
from collections.abc import Callable

from fastapi.testclient import TestClient
from sqlmodel import Session, select

from app.records.sites import Rating, Site, Structure
from app.services.sites.families import families

HTML = {"accept": "text/html"}
SITE = {"code": "TANSY", "name": "Tansy Hollow", "utc_offset": "+12:00", "head_unit": "mm"}


def value_of(html: str, name: str) -> str:
    found = re.search(rf'name="{re.escape(name)}"[^>]*?value="([^"]*)"', html)
    assert found, name
    return found[1]


def test_the_first_page_depends_on_the_role(as_office: TestClient, as_crew: TestClient) -> None:
    assert as_office.get("/").headers["location"] == "/today"
    assert as_crew.get("/").headers["location"] == "/field"


def test_a_site_is_entered_and_listed(as_office: TestClient) -> None:
    assert "No site yet" in as_office.get("/sites", headers=HTML).text
    answer = as_office.post("/sites", data=SITE, headers=HTML)
    assert answer.status_code == 303
    page = as_office.get(answer.headers["location"], headers=HTML).text
    assert "Tansy Hollow" in page
    assert "No structure yet" in page
    assert as_office.get("/sites.json").json()["rows"][0]["code"] == "TANSY"
    assert as_office.get("/sites.csv").text.startswith("id,code,name,")


def test_an_error_comes_back_in_the_form_with_all_that_was_typed(as_office: TestClient) -> None:
    typed = SITE | {"utc_offset": "noon", "notes": "Key under <the> stone", "latitude": "-43.6"}
    answer = as_office.post("/sites", data=typed, headers=HTML)
    assert answer.status_code == 422
    assert value_of(answer.text, "utc_offset") == "noon"
    assert value_of(answer.text, "latitude") == "-43.6"
    assert "Key under &lt;the&gt; stone" in answer.text
    assert 'aria-invalid="true"' in answer.text
    assert "without daylight saving" in answer.text


def test_a_position_is_typed_as_people_write_it(as_office: TestClient) -> None:
    typed = SITE | {"latitude": "43°36'07,6\" S", "longitude": "E 172 38.5"}
    place = as_office.post("/sites", data=typed).headers["location"]
    row = as_office.get("/sites.json").json()["rows"][0]
    assert row["latitude"] == -43.602111111  # 43 + 36/60 + 7.6/3600
    assert row["longitude"] == 172.641666667
    assert "43°36&#39;07.6&#34;S 172°38&#39;30.0&#34;E" in as_office.get(place, headers=HTML).text
    form = as_office.get(f"{place}/edit", headers=HTML).text
    kept = SITE | {name: value_of(form, name) for name in ("latitude", "longitude", "revision")}
    assert as_office.post(place, data=kept).status_code == 303
    assert as_office.get("/sites.json").json()["rows"][0] == row  # posted back it is the same
    wrong = as_office.post(place, data=kept | {"latitude": "43 61 S"}, headers=HTML)
    assert wrong.status_code == 422
    assert "minutes are less than 60" in wrong.text
    assert value_of(wrong.text, "latitude") == "43 61 S"


def test_a_clash_shows_both_and_loses_nothing(as_office: TestClient, session: Session) -> None:
    place = as_office.post("/sites", data=SITE).headers["location"]
    opened = SITE | {
        "revision": value_of(as_office.get(f"{place}/edit", headers=HTML).text, "revision")
    }
    assert as_office.post(place, data=opened | {"hazards": "Bull"}).status_code == 303
    clash = as_office.post(place, data=opened | {"hazards": "Ice"}, headers=HTML)
    assert clash.status_code == 409
    assert "Ice</textarea>" in clash.text
    assert "At the office now: Bull" in clash.text
    assert session.exec(select(Site.hazards)).one() == "Bull"
    session.commit()  # a session that looked holds SQLite's one write lock
    mine = opened | {"hazards": "Bull, ice", "revision": value_of(clash.text, "revision")}
    assert as_office.post(place, data=mine).status_code == 303
    session.expire_all()
    assert session.exec(select(Site.hazards)).one() == "Bull, ice"


def test_the_form_of_a_structure_is_made_from_the_registry(as_office: TestClient) -> None:
    place = as_office.post("/sites", data=SITE).headers["location"]
    page = as_office.get(f"{place}/structures/new", headers=HTML).text
    for family in families():
        assert f'value="{family.key}"' in page
        form = as_office.get(f"{place}/structures/new?family={family.key}", headers=HTML).text
        for dimension in family.dimensions:
            assert f'name="dim.{dimension.key}"' in form, family.key


def test_choosing_another_family_keeps_what_was_typed(as_office: TestClient) -> None:
    place = as_office.post("/sites", data=SITE).headers["location"]
    page = as_office.get(f"{place}/structures/new?family=parshall&name=Main&reason=built").text
    assert value_of(page, "name") == "Main"
    assert value_of(page, "reason") == "built"


def test_a_structure_with_a_wrong_dimension_keeps_the_rest(as_office: TestClient) -> None:
    place = as_office.post("/sites", data=SITE).headers["location"]
    typed = {"family": "parshall", "dim.size": "", "name": "Main", "valid_from": "2026-07-01T00:00"}
    answer = as_office.post(f"{place}/structures", data=typed, headers=HTML)
    assert answer.status_code == 422
    assert value_of(answer.text, "name") == "Main"
    assert 'id="size-wrong"' in answer.text
    saved = as_office.post(f"{place}/structures", data=typed | {"dim.size": "1ft"}, headers=HTML)
    assert saved.status_code == 303
    assert "Parshall flume, 1 ft" in as_office.get(place, headers=HTML).text


def test_a_new_rating_leads_to_the_look_at_what_changes(
    as_office: TestClient, a_site: Callable[..., Structure], session: Session
) -> None:
    structure = a_site()
    form = as_office.get(f"/structures/{structure.id}/ratings/new", headers=HTML).text
    assert '<option value="1ft" selected' in form
    typed = {"family": "parshall", "dim.size": "2ft", "valid_from": "2026-07-01T00:00"}
    path = f"/structures/{structure.id}/ratings"
    assert "this is needed" in as_office.post(path, data=typed, headers=HTML).text
    answer = as_office.post(path, data=typed | {"reason": "rebuilt"}, headers=HTML)
    assert answer.headers["location"] == f"/sites/{structure.site_id}/rate-again"
    assert len(session.exec(select(Rating)).all()) == 2
    rows = as_office.get(f"/sites/{structure.site_id}/ratings.json").json()["rows"]
    assert [r["reason"] for r in rows] == ["rebuilt", "as built"]


def test_a_new_zero_is_dated_and_kept(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    structure = a_site()
    typed = {
        "crest_rl_m": "100,0",
        "zero_rl_m": "100.003",
        "valid_from": "2026-07-01T00:00",
        "reason": "level run",
    }
    path = f"/structures/{structure.id}/gauge-zeros"
    assert as_office.get(f"{path}/new", headers=HTML).status_code == 200
    assert as_office.post(path, data=typed, headers=HTML).status_code == 303
    rows = as_office.get(f"/sites/{structure.site_id}/gauge-zeros.json").json()["rows"]
    assert [r["offset_m"] for r in rows] == [0.003, 0.0]
    bad = as_office.post(path, data=typed | {"crest_rl_m": "high"}, headers=HTML)
    assert bad.status_code == 422
    assert value_of(bad.text, "crest_rl_m") == "high"


def test_a_structure_is_edited(as_office: TestClient, a_site: Callable[..., Structure]) -> None:
    structure = a_site()
    path = f"/structures/{structure.id}"
    page = as_office.get(f"{path}/edit", headers=HTML).text
    form = {
        "name": "Old flume",
        "revision": value_of(page, "revision"),
        "head_uncertainty_mm": "2,5",
    }
    assert as_office.post(path, data=form, headers=HTML).status_code == 303
    changes = as_office.get(f"/sites/{structure.site_id}/changes.json").json()["rows"]
    assert "head_uncertainty_m 0.0025" in changes[0]["after"]
    assert as_office.post(path, data=form, headers=HTML).status_code == 409


def test_crew_look_and_do_not_write(as_crew: TestClient, a_site: Callable[..., Structure]) -> None:
    structure = a_site()
    site = structure.site_id
    assert as_crew.get(f"/sites/{site}", headers=HTML).status_code == 200
    assert "Edit site" not in as_crew.get(f"/sites/{site}", headers=HTML).text
    for path in ("/sites", f"/sites/{site}", f"/structures/{structure.id}/ratings"):
        assert as_crew.post(path, data=SITE).status_code == 403
    assert as_crew.get(f"/sites/{site}/rate-again").status_code == 403


def test_a_site_code_of_any_letters_names_its_downloads(
    as_office: TestClient, session: Session, a_site: Callable[..., Structure]
) -> None:
    structure = a_site("ŌTĀ\u2192 1")
    site = structure.site_id
    session.commit()
    for path in (
        f"/sites/{site}/readings.csv",
        f"/sites/{site}/history.csv",
        f"/sites/{site}/changes.csv",
        f"/structures/{structure.id}/daily.csv",
        f"/structures/{structure.id}/series.csv",
        f"/structures/{structure.id}/totals.csv",
    ):
        answer = as_office.get(path)
        assert answer.status_code == 200, path
        assert "UTF-8''" in answer.headers["content-disposition"]
