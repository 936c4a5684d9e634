"""The audit trail as a page: who, what, before, after, why; by site and by kind, in parts."""

from collections.abc import Callable

from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.sites import Structure
from tests.web.record_files import HTML, a_file, imported


def test_the_trail_names_who_and_before_and_after(
    as_office: TestClient,
    as_crew: TestClient,
    a_site: Callable[..., Structure],
    session: Session,
) -> None:
    structure = a_site()
    other = a_site("OTHER")
    session.commit()
    imported(as_office, structure.site_id, structure.id or 0, a_file(3))
    assert as_crew.get("/audit", headers=HTML).status_code == 403
    page = as_office.get("/audit", headers=HTML).text
    assert "logger file imported" in page
    assert "Office One" in page
    bands = {"over_mm_1": "3", "over_mm_2": "6", "over_mm_3": "25"}
    as_office.post(f"/structures/{structure.id}/acceptance-bands", data=bands)
    bands["over_mm_1"] = "4"
    as_office.post(f"/structures/{structure.id}/acceptance-bands", data=bands)
    lines = as_office.get("/audit.json", params={"subject": "preference"}).json()["rows"]
    assert len(lines) == 2
    assert lines[0]["before"] != lines[0]["after"]
    none = as_office.get("/audit", params={"site": str(other.site_id)}, headers=HTML).text
    assert "logger file imported" not in none
    assert "No change" in as_office.get("/audit", params={"before": "1"}, headers=HTML).text
    assert as_office.get("/audit.csv").text.startswith("id,at,by,action,")
    assert as_office.get("/audit", params={"site": "x"}, headers=HTML).status_code == 422
