"""Tests of the phone stand in its rooms: `tests/phone/<room>/<module>.test.js`."""

from pathlib import Path

import pytest

from tests.house.scripts import PHONE_TESTS, STATIC, files, taken
from tests.paths import ROOT

TESTS = files(".test.js", PHONE_TESTS)
HELPERS = {
    "memory_database.js",
    "power_table.js",
    "vectors.js",
    "keep/made_up_office.js",
    "install/made_up_stop.js",
}
BESIDE = (("shared",), ("office",))  # folders of `static/` that are no rooms of the phone
# Rooms that only a browser can test: the file that does, and the page it opens.
IN_A_BROWSER = {
    "plan": ("tests/browser/test_planning.py", "/field/plan?"),
    "sites": ("tests/browser/test_offline.py", '"/field"'),
}


def name(path: Path) -> str:
    return path.relative_to(PHONE_TESTS).as_posix()


def room_of(path: Path) -> Path:
    """Return the folder of `static/` that a test mirrors."""
    place = path.parent.relative_to(PHONE_TESTS)
    return STATIC / place if place.parts[:1] in BESIDE else STATIC / "field" / place


@pytest.mark.parametrize("path", TESTS, ids=name)
def test_a_test_is_named_after_a_module_of_its_room_and_takes_from_it(path: Path) -> None:
    module = room_of(path) / path.name.replace(".test.js", ".js")
    assert module.is_file(), f"{name(path)} mirrors no module"
    rooms = {target.parent for target, _ in taken(path)}
    assert module.parent in rooms, f"{name(path)} tests nothing of its room"


def test_every_room_is_tested() -> None:
    rooms = {p.name for p in (STATIC / "field").iterdir() if p.is_dir()}
    tested = {path.relative_to(PHONE_TESTS).parts[0] for path in TESTS} - {"shared", "office"}
    assert rooms - tested == set(IN_A_BROWSER)
    for room, (path, page) in IN_A_BROWSER.items():
        assert page in (ROOT / path).read_text("utf-8"), f"{path} opens no page of {room}"


def test_what_is_no_test_helps_some() -> None:
    others = {name(path) for path in files(".js", PHONE_TESTS)} - {name(path) for path in TESTS}
    assert others == HELPERS
    asked = {
        name(target) for path in TESTS for target, _ in taken(path) if PHONE_TESTS in target.parents
    }
    assert asked == HELPERS


def test_the_gate_finds_them() -> None:
    gate = ROOT / ".ci" / "run"
    if gate.is_file():  # a copy of the tree may stand without it
        assert "node --test tests/phone/" in gate.read_text("utf-8")
