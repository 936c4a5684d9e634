"""The register of instruments as pages, lists and forms."""

import hashlib
from collections.abc import Callable

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from tests.builders.check_gaugings import a_gauging
from tests.builders.web_record_files import HTML
from tests.conftest import send

METER = {"kind": "current_meter", "described": "Small propeller (invented)", "serial": "P-77",
         "interval_days": "365", "place": "store", "words": "shelf 2"}  # fmt: skip
CALIBRATION = {"on_day": "2024-02-01", "by_whom": "tank", "outcome": "adjusted",
               "coefficients": "slope: 0,2519 m\noffset: 0.0052 m/s"}  # fmt: skip


def added(client: TestClient, **changes: str) -> str:
    answer = client.post("/equipment", data=METER | changes)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def test_empty_and_found_nothing_differ(as_office: TestClient, as_crew: TestClient) -> None:
    assert "Begin with the level" in as_office.get("/equipment", headers=HTML).text
    assert "/equipment/new" not in as_crew.get("/equipment", headers=HTML).text
    added(as_office)
    assert "No instrument fits" in as_crew.get("/equipment?kind=staff", headers=HTML).text
    assert len(as_crew.get("/equipment.json?q=small").json()["rows"]) == 1


def test_a_life_in_the_register(as_office: TestClient, as_crew: TestClient) -> None:
    path = added(as_office)
    assert added(as_office) == path, "the same form twice is one instrument"
    assert as_crew.post("/equipment", data=METER).status_code == 403
    assert as_crew.post(path, data=METER | {"reason": "x"}).status_code == 403
    assert "calibration unknown" in as_crew.get(path, headers=HTML).text
    scan = b"%PDF-1.4 invented certificate"
    answer = as_office.post(
        f"{path}/calibrations", data=CALIBRATION, files={"file": ("paper 7.pdf", scan)}
    )
    assert answer.status_code == 303, answer.text
    (line,) = as_crew.get(f"{path}/calibrations.json").json()["rows"]
    assert line["due_on"] == "2025-01-31"
    assert line["coefficients"] == ["slope: 0.2519 m", "offset: 0.0052 m/s"]
    assert line["certificate_sha256"] == hashlib.sha256(scan).hexdigest()
    kept = as_crew.get(f"/equipment/calibrations/{line['id']}/certificate")
    assert kept.content == scan
    assert "attachment" in kept.headers["content-disposition"]
    assert "paper_7.pdf" in kept.headers["content-disposition"]
    fix = CALIBRATION | {"replaces_id": str(line["id"]), "reason": "misread", "by_whom": "own tank"}
    assert as_office.post(f"{path}/calibrations", data=fix).status_code == 303
    old, new = as_crew.get(f"{path}/calibrations.json").json()["rows"]
    assert (old["stands"], new["stands"]) == (False, True)
    assert new["certificate_sha256"] == old["certificate_sha256"], "the file stays"
    (row,) = as_crew.get("/equipment.json?state=overdue").json()["rows"]
    assert row["calibration_words"].startswith("overdue: calibration of 2024-02-01")
    retired = {"place": "retired", "reason": "bent spindle"}
    assert as_office.post(f"{path}/places", data=retired).status_code == 303
    assert "bent spindle" in as_crew.get(path, headers=HTML).text
    said = METER | {"serial": "P-78", "reason": "misread"}
    assert as_office.post(path, data=said).status_code == 303
    facts = as_crew.get(f"{path}/facts.json").json()["rows"]
    assert [x["serial"] for x in facts] == ["P-77", "P-78"]
    actions = {x["action"] for x in as_office.get("/audit.json").json()["rows"]
               if x["subject"] == "instrument"}  # fmt: skip
    assert actions == {"added", "calibrated", "calibration corrected", "moved", "changed"}


@pytest.mark.parametrize(
    ("where", "form", "field"),
    [
        ("", METER | {"kind": "boat"}, "kind"),
        ("", METER | {"described": ""}, "described"),
        ("", METER | {"interval_days": "-3"}, "interval_days"),
        ("", METER | {"place": "site"}, "site_id"),
        ("", METER | {"place": "person", "person_id": "7777"}, "person_id"),
        ("", METER | {"words": ""}, "words"),
        ("", METER | {"since": "2099-01-01"}, "since"),
        ("", METER, "serial"),
        ("/1/calibrations", CALIBRATION | {"on_day": ""}, "on_day"),
        ("/1/calibrations", CALIBRATION | {"on_day": "2099-01-01"}, "on_day"),
        ("/1/calibrations", CALIBRATION | {"outcome": "fine"}, "outcome"),
        ("/1/calibrations", CALIBRATION | {"due_on": "2024-01-01"}, "due_on"),
        ("/1/calibrations", CALIBRATION | {"coefficients": "slope"}, "coefficients"),
        ("/1/calibrations", CALIBRATION | {"coefficients": "k: 1,234"}, "coefficients"),
        ("/1/calibrations", CALIBRATION | {"replaces_id": "9"}, "replaces_id"),
        ("/1/places", {"place": "lost"}, "reason"),
    ],
)
def test_what_cannot_be_is_refused_and_kept_in_the_form(
    as_office: TestClient,
    as_steward: TestClient,
    where: str,
    form: dict[str, str],
    field: str,
) -> None:
    assert added(as_steward) == "/equipment/1"
    answer = as_office.post(f"/equipment{where}", data=form, headers=HTML)
    assert answer.status_code == 422, answer.text
    shown = field.replace("_", " ")
    assert shown.capitalize() in answer.text
    assert len(as_office.get("/equipment.json").json()["rows"]) == 1


def test_a_gauging_is_named_on_its_page(
    as_office: TestClient,
    as_crew: TestClient,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    session: Session,
) -> None:
    structure, ines = a_site(), a_person()
    path = added(as_office)
    as_office.post(f"{path}/calibrations", data=CALIBRATION | {"due_on": "2024-06-01"})
    entry = a_gauging(structure, ines, 0.21, 0.05)
    entry["body"]["instrument"] = {"kind": "propeller", "serial": "p77"}
    send(session, ines, entry)
    page = as_office.get(f"/gaugings/{entry['id']}", headers=HTML).text
    assert "Nothing is taken over until" in page
    assert entry["id"] in as_office.get(path, headers=HTML).text
    form = {"instrument_id": path.rsplit("/", 1)[1], "reason": "field sheet"}
    assert as_crew.post(f"/entries/{entry['id']}/instrument", data=form).status_code == 403
    answer = as_office.post(f"/entries/{entry['id']}/instrument", data=form)
    assert answer.headers["location"] == f"/gaugings/{entry['id']}#instrument"
    page = as_crew.get(f"/gaugings/{entry['id']}", headers=HTML).text
    assert "overdue: calibration of 2024-02-01, was due 2024-06-01" in page
    text = as_crew.get(f"/sites/{structure.site_id}/gaugings.csv").text
    assert "overdue" in text
    (one,) = as_crew.get("/pack").json()["instruments"]
    assert one["name"] == "Small propeller (invented), P-77"
    bad = as_office.post(f"/entries/{entry['id']}/instrument", data=form | {"reason": ""})
    assert bad.status_code == 422
