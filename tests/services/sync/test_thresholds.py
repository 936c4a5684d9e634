"""What the phone judges by is what the server judges by: one table, in the pack and in a file."""

import json
import re

import pytest
from fastapi.testclient import TestClient

from app.hydraulics.gauging import steadiness
from app.services.readings import observed
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
    monkeypatch.setattr(observed, "REPEATS_RANGE_M", 0.123)
    monkeypatch.setattr(steadiness, "DRIFT_LIMIT_M", 0.456)
    told = thresholds()
    assert told["readings"]["repeats_range_m"] == 0.123
    assert told["steadiness"]["drift_limit_m"] == 0.456


def test_no_script_copies_one() -> None:
    """A number of the table is read from it: no constant of a script bears its name."""
    names = {key.upper() for room in thresholds().values() for key in room}
    for path in (ROOT / "static" / "field").rglob("*.js"):
        made = set(
            re.findall(r"^(?:export )?const ([A-Z][A-Z0-9_]+) = ", path.read_text("utf-8"), re.M)
        )
        assert not made & names, f"{path} copies {made & names}"
