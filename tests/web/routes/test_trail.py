"""The audit trail as a page: who, what, before, after, why; by site and by kind, in parts."""

from collections.abc import Callable

from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.sites import Structure
from tests.builders.web_record_files import HTML, a_file, imported
from tests.markup import tight


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
    assert "Office One took in 288 readings from" in tight(page)
    bands = {"over_mm_1": "3", "over_mm_2": "6", "over_mm_3": "25"}
    as_office.post(f"/structures/{structure.id}/acceptance-bands", data=bands)
    bands["over_mm_1"] = "4"
    as_office.post(f"/structures/{structure.id}/acceptance-bands", data=bands)
    lines = as_office.get("/audit.json", params={"subject": "setting"}).json()["rows"]
    assert len(lines) == 2
    assert lines[0]["before"] != lines[0]["after"]
    none = as_office.get("/audit", params={"site": str(other.site_id)}, headers=HTML).text
    assert "took in" not in none
    assert "No change" in as_office.get("/audit", params={"before": "1"}, headers=HTML).text
    assert as_office.get("/audit.csv").text.startswith("id,at,by,action,")
    assert as_office.get("/audit", params={"site": "x"}, headers=HTML).status_code == 422


def test_the_trail_names_the_month_and_the_limit(
    as_office: TestClient, a_site: Callable[..., Structure], session: Session
) -> None:
    structure = a_site()
    session.commit()
    imported(as_office, structure.site_id, structure.id or 0, a_file(70))
    base = f"/structures/{structure.id}"
    form = {"to": "reviewed", "revision": "0"}
    assert as_office.post(f"{base}/months/2024-08", data=form).status_code == 303
    limit = {"kind": "rate", "amount": "0.125", "valid_from": "2024-08-01"}
    assert as_office.post(f"{base}/takes", data=limit).status_code == 303
    ended = {"last_day": "2024-12-31", "reason": "a new consent"}
    answer = as_office.post(f"{base}/takes/1/end", data=ended)
    assert answer.status_code == 303, answer.text
    for path in ("/audit", f"/sites/{structure.site_id}/changes"):
        page = tight(as_office.get(path, headers=HTML).text)
        assert "Office One reviewed August 2024 of the flume" in page, path
        assert "added the rate limit of 125 L/s at the flume" in page, path
        assert "ended the rate limit of 125 L/s at the flume, last day 2024-12-31" in page, path
        assert "a new consent" in page, path
    for path in ("/audit.json", f"/sites/{structure.site_id}/changes.json"):
        rows = {row["action"]: row for row in as_office.get(path).json()["rows"]}
        assert "month 2024-08" in rows["month reviewed"]["about"]
        assert "state draft" not in rows["month reviewed"]["about"]
        assert {"kind rate", "amount 0.125"} <= set(rows["limit ended"]["about"])
        assert rows["limit ended"]["named"] == "Flume"
        assert "logger file imported" in rows
