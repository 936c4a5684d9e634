"""What the phone judges by is what the server judges by: one table, in the pack and in a file."""

import json
import re

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.hydraulics.gauging import steadiness
from app.services.readings import observed
from app.services.settings.change import set_from_form
from app.services.sync.thresholds import thresholds
from tests.paths import ROOT

TABLE = ROOT / "tests" / "tables" / "thresholds.json"
SHIPPED = ROOT / "static" / "field" / "base" / "thresholds.js"


def test_the_shipped_table_is_the_servers() -> None:
    """`node --test` holds the phone's own table to the same file."""
    assert json.loads(TABLE.read_text("utf-8")) == thresholds()


def test_the_phones_own_table_is_the_servers() -> None:
    text = SHIPPED.read_text("utf-8").split("const SHIPPED = ", 1)[1].split(";\n", 1)[0]
    quoted = re.sub(r"(\w+):", r'"\1":', text)
    assert json.loads(re.sub(r",(\s*})", r"\1", quoted)) == thresholds()


def test_the_pack_carries_them(as_crew: TestClient) -> None:
    assert as_crew.get("/pack").json()["thresholds"] == thresholds()


def test_they_are_what_the_server_judges_by(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(observed, "FAR_UNDER_M", 0.123)
    monkeypatch.setattr(steadiness, "STORAGE_SHARE", 0.456)
    told = thresholds()
    assert told["readings"]["far_under_m"] == 0.123
    assert told["steadiness"]["storage_share"] == 0.456


def test_a_setting_reaches_the_phone_and_changes_the_mark_of_the_pack(
    as_crew: TestClient, session: Session
) -> None:
    before = as_crew.get("/pack")
    form = {"value": "12,5", "reason": "coarse staffs", "revision": "0"}
    set_from_form(session, "repeats_range_m", form, None)
    session.commit()
    mark = {"if-none-match": before.headers["etag"]}
    after = as_crew.get("/pack", headers=mark)
    assert after.status_code == 200
    assert after.headers["etag"] != before.headers["etag"]
    told = after.json()["thresholds"]
    assert told["readings"]["repeats_range_m"] == 0.0125
    told["readings"]["repeats_range_m"] = before.json()["thresholds"]["readings"]["repeats_range_m"]
    assert told == thresholds()


def test_no_script_copies_one() -> None:
    """A number of the table is read from it: no constant of a script bears its name."""
    names = {key.upper() for room in thresholds().values() for key in room}
    for path in (ROOT / "static" / "field").rglob("*.js"):
        made = set(
            re.findall(r"^(?:export )?const ([A-Z][A-Z0-9_]+) = ", path.read_text("utf-8"), re.M)
        )
        assert not made & names, f"{path} copies {made & names}"
