"""Shared vectors have one shape; they hold what the server says today and what is published."""

import json

import pytest

from tests.paths import ROOT, TABLES
from tests.vectors.files import FILES
from tests.vectors.harness import assert_same, at, cases, shaped

THRESHOLDS = "thresholds"  # figures both sides hold, no cases: tests/services/sync/test_thresholds


def test_every_file_is_made_here() -> None:
    assert {path.stem for path in TABLES.glob("*.json")} - {THRESHOLDS} == set(FILES)


@pytest.mark.parametrize("name", FILES)
def test_a_file_holds_what_the_server_says_today(name: str) -> None:
    kept, now = cases(name), json.loads(json.dumps(FILES[name][1]()))
    shaped(kept)
    words = f"write it anew: python -m tests.vectors {name}"
    assert [one["name"] for one in kept] == [one["name"] for one in now], words
    for mine, theirs in zip(now, kept, strict=True):
        assert_same(mine, theirs, 1e-9, f"{theirs['name']}: {words}")


@pytest.mark.parametrize("name", FILES)
def test_what_was_worked_outside_this_code_comes_out(name: str) -> None:
    for one in FILES[name][1]():
        for path, wanted in one.get("published", {}).items():
            where = f"{one['name']} {path} ({one['source']})"
            assert_same(at(one["result"], path), wanted, one["tolerance"], where)


def test_the_phones_tests_read_them_in_one_way() -> None:
    phone = ROOT / "tests" / "phone"
    for path in phone.rglob("*.js"):
        if path.name not in ("vectors.js", f"{THRESHOLDS}.test.js"):
            assert "tables/" not in path.read_text("utf-8"), f"{path} reads a table by itself"
