"""Tests stand in the rooms of what they test: a folder is a room, a file names something in it."""

import ast
from pathlib import Path

import pytest

from tests.house.source import APP
from tests.paths import ROOT

FLOORS = ("hydraulics", "records", "language", "services", "demo", "web", "commands")
# Rooms that are tested through what uses them: the file, and a word of it that shows so.
ELSEWHERE = {
    "services/lists": ("tests/web/test_twins.py", "/values.json"),
    "services/ratings": ("tests/services/fits/test_tests.py", "app.services.ratings"),
    "services/series": ("tests/services/days/test_rebuild.py", "app.services.series"),
}
# Subjects of a room that are met through other rooms: each with the subject.
SUBJECTS = {
    "tests/services/entries/test_order.py": "what stands, in any order of arrival",
    "tests/services/sync/test_one_bad.py": "a batch with one bad record, as a phone posts it",
    "tests/services/sync/test_kill.py": "nothing acknowledged is lost when the server is killed",
}
THROUGH_THE_DOOR = ("web", "commands")  # tested by requests and verbs, which import no room


def folders(floor: str) -> list[Path]:
    home = ROOT / "tests" / floor
    return sorted({path.parent for path in home.rglob("test_*.py")} | {home})


def imported(tree: ast.Module) -> set[str]:
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom) and node.module:
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
    return found


@pytest.mark.parametrize("floor", FLOORS)
def test_a_folder_of_tests_is_a_room(floor: str) -> None:
    for folder in folders(floor):
        room = APP / folder.relative_to(ROOT / "tests")
        assert room.is_dir(), f"{folder} mirrors no room"


@pytest.mark.parametrize("floor", FLOORS)
def test_a_test_names_a_module_or_a_subject_of_its_room(floor: str) -> None:
    """`test_rate.py` tests `rate.py`; a subject says what it is and imports from the room."""
    for folder in folders(floor):
        place = folder.relative_to(ROOT / "tests")
        there = {path.stem for path in (APP / place).iterdir()}
        dotted = "app." + ".".join(place.parts)
        for path in folder.glob("test_*.py"):
            named = path.stem.removeprefix("test_") in there
            if named or path.relative_to(ROOT).as_posix() in SUBJECTS:
                continue
            tree = ast.parse(path.read_text("utf-8"))
            assert ast.get_docstring(tree), f"{path} names no module and does not say its subject"
            if floor not in THROUGH_THE_DOOR:
                of_room = [n for n in imported(tree) if n.startswith(dotted)]
                of_room += [n for n in imported(tree) if n.startswith("tests.vectors")]
                assert of_room, f"{path} tests nothing of {dotted}"


def test_every_room_has_tests() -> None:
    for floor in ("hydraulics", "services"):
        rooms = {p.name for p in (APP / floor).iterdir() if (p / "__init__.py").exists()}
        home = ROOT / "tests" / floor
        tested = {p.relative_to(home).parts[0] for p in home.rglob("test_*.py")}
        untested = {f"{floor}/{room}" for room in rooms - tested}
        assert untested == {room for room in ELSEWHERE if room.startswith(floor)}
    for room, (path, word) in ELSEWHERE.items():
        assert word in (ROOT / path).read_text("utf-8"), f"{path} says nothing of {room}"
