"""Rules of the rooms: folders by noun of the trade, the same on every floor, imports by a table."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.paths import ROOT

APP = ROOT / "app"
MOST_MODULES = 12
EQUALS = {"app/records", "app/web/routes"}  # folders of equals may hold more
PAGES = {"templates/field"}  # one page of the phone each

# What the office shows beside the rooms, and routes that are a part of a room.
BESIDE = {"about", "api", "people", "tokens"}
PARTS_OF = {
    "structures": "sites",
    "choosing": "plans",
    "history": "readings",
    "logger_files": "loggers",
    "trail": "review",
    "months": "review",
    "kept": "entries",
    "field": "sync",
}

# A room may import those that stand before it, and no other.
ORDER = {
    "app/hydraulics": (
        "base",
        "channel",
        "gauging",
        "levelling",
        "series",
        "structure",
        "families",
        "rating",
        "install",
    ),
    "app/services": (
        "settings",
        "entries",
        "sites",
        "equipment",
        "plans",
        "readings",
        "gaugings",
        "series",
        "days",
        "corrections",
        "loggers",
        "ratings",
        "surveys",
        "install",
        "sync",
        "books",
        "review",
        "visits",
        "takes",
        "record",
        "rerating",
        "fits",
        "lists",
        "today",
        "map",
        "sheets",
        "datasets",
        "upkeep",
        "archive",
    ),
}


def folders() -> list[str]:
    found = {path.parent for path in APP.rglob("*.py")}
    return sorted(path.relative_to(ROOT).as_posix() for path in found)


def modules(folder: str) -> list[Path]:
    return sorted(p for p in (ROOT / folder).glob("*.py") if p.stem != "__init__")


@pytest.mark.parametrize("folder", folders())
def test_a_folder_fits_on_one_look(folder: str) -> None:
    assert folder in EQUALS or len(modules(folder)) <= MOST_MODULES, modules(folder)


def forms_of(noun: str) -> set[str]:
    """Return a noun in the singular and as it stands: `entries` and `entry`, `days` and `day`."""
    singular = noun.removesuffix("ies") + "y" if noun.endswith("ies") else noun.removesuffix("s")
    return {noun, singular}


@pytest.mark.parametrize("folder", folders())
def test_a_file_never_repeats_its_folders_noun(folder: str) -> None:
    for path in modules(folder):
        twice = forms_of(folder.rsplit("/", 1)[-1]) & forms_of(path.stem.split("_")[0])
        assert not twice, f"{path} says {twice} twice"


@pytest.mark.parametrize("folder", [f for f in folders() if f != "app/records"])
def test_a_room_says_what_it_is_and_re_exports_nothing(folder: str) -> None:
    init = ROOT / folder / "__init__.py"
    tree = ast.parse(init.read_text("utf-8"))
    assert ast.get_docstring(tree), f"{init} has no floor plan"
    assert not [node for node in tree.body if isinstance(node, ast.Import | ast.ImportFrom)], init


def test_templates_stand_in_the_rooms() -> None:
    rooms = {*ORDER["app/services"], *BESIDE, "field"}
    for folder in (p for p in (ROOT / "templates").iterdir() if p.is_dir()):
        assert folder.name in rooms, f"{folder} is no room"
        held = [p for p in folder.rglob("*") if p.is_file()]
        named = folder.relative_to(ROOT).as_posix() in PAGES
        assert held, f"{folder} is empty"
        assert named or len(held) <= MOST_MODULES, held
        for path in held:
            noun = folder.name.removesuffix("s")
            assert not path.stem.lstrip("_").startswith(noun), f"{path} says {noun} twice"


def test_routes_are_one_file_a_room() -> None:
    rooms = {*ORDER["app/services"], *BESIDE}
    for path in modules("app/web/routes"):
        assert PARTS_OF.get(path.stem, path.stem) in rooms, f"{path} is no room"


def imports(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("floor", ORDER)
def test_rooms_import_by_the_table(floor: str) -> None:
    order, base = ORDER[floor], floor.replace("/", ".") + "."
    rooms = {p.name for p in (ROOT / floor).iterdir() if (p / "__init__.py").exists()}
    assert rooms == set(order), "the table of rooms and the folders differ"
    for place, room in enumerate(order):
        for path in (ROOT / floor / room).rglob("*.py"):
            for name in imports(path):
                if name.startswith(base):
                    other = name.removeprefix(base).split(".")[0]
                    assert other in order[: place + 1], f"{path} imports {name}"


def test_no_list_of_what_is_public() -> None:
    for path in APP.rglob("*.py"):
        text = path.read_text("utf-8")
        if path != APP / "records" / "__init__.py":
            assert "__all__" not in text, path
        assert "\nPublic:" not in text, path


def test_the_floor_plan_names_every_room() -> None:
    plan = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for floor, order in ORDER.items():
        for room in order:
            assert f"`{floor.removeprefix('app/')}/{room}`" in plan, f"{floor}/{room}"


def test_the_floor_plan_names_the_phones_rooms_and_the_offices_routes() -> None:
    """The last two columns of its table of rooms are the folders and files that are there."""
    plan = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    table = plan[plan.index("| room | holds |") :].split("\n\n")[0]
    rows = [[cell.strip() for cell in line.strip("|").split("|")] for line in table.splitlines()]
    names = [[re.findall(r"`(\w+)`", cell) for cell in row[2:4]] for row in rows[2:]]
    phone = sorted(name for row in names for name in row[0])
    office = sorted(name for row in names for name in row[1])
    rooms = {path.name for path in (ROOT / "static" / "field").iterdir() if path.is_dir()}
    assert phone == sorted(rooms - {"base", "shell", "typed"})
    routes = {path.stem for path in (ROOT / "app" / "web" / "routes").glob("*.py")}
    assert office == sorted(routes - {"__init__"})
