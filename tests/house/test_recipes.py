"""The recipes of DEVELOPERS.md, followed step by step in a copy of the tree with made-up things.

What follows "by itself" is looked at from outside: pages, lists, the pack, the command line.
"""

import csv
import io
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.paths import ROOT

MADE_UP = ROOT / "tests" / "house" / "made_up"
TREE = ("app", "templates", "static", "migrations", "tests", "pyproject.toml", "DEVELOPERS.md")
NAME, PASSWORD = "Teal (invented)", "a long made-up password"

OMEN = '''"""Body of an omen: made up, to follow a recipe with."""

from typing import Annotated

from pydantic import Field

from app.services.entries.bodies.base import ShortText, Strict


class Omen(Strict):
    """What was seen, and how many birds."""

    seen: ShortText
    birds: Annotated[int, Field(ge=0, le=99)]
'''
STEPS_TABLE = '''

STEP_COLUMNS = (
    Column("code", "Site"),
    Column("name", "Name of the site"),
    Column("formula", "A text that starts like a formula"),
    Column("height_m", "Height, m"),
)


def steps_table(session: Session) -> Table:
    """Return something made up of every site."""
    rows = [
        {"code": site.code, "name": site.name, "formula": "=1+1", "height_m": -0.5}
        for site in session.exec(select(Site).order_by(Site.code))
    ]
    return Table("steps", STEP_COLUMNS, rows)
'''
STEPS_ROUTE = """

@router.get("/steps.csv")
@router.get("/steps.json")
@everyone
def step_list(request: Request, session: SessionDep) -> Response:
    return listing(request, site_tables.steps_table(session))
"""


def put(path: Path, after: str, line: str) -> None:
    """Put one line under the first that reads so."""
    text = path.read_text("utf-8")
    assert f"{after}\n" in text, f"{path.name}: the recipe's place is gone: {after}"
    path.write_text(text.replace(f"{after}\n", f"{after}\n{line}\n", 1), "utf-8")


def add_family(tree: Path) -> None:
    """I want to add a flume family."""
    families = tree / "app" / "hydraulics" / "families"
    shutil.copy(MADE_UP / "paper_step.py", families)  # 1. the family's own file
    put(families / "registry.py", "    notch,", "    paper_step,")  # 2. its line, and its import
    put(families / "registry.py", "    user_table.FAMILY,", "    paper_step.FAMILY,")
    tests = tree / "tests"  # 3. its published table and its test
    shutil.copy(MADE_UP / "paper_step_table.txt", tests / "tables" / "paper_step.csv")
    shutil.copy(MADE_UP / "paper_step_test.txt", tests / "hydraulics/families/test_paper_step.py")
    put(
        tests / "hydraulics" / "registry.py",
        '    "user_table": ("user_rating", "rating_table_loglog"),',
        '    "paper_step": ("paper_step", "paper_step"),',
    )


def add_kind(tree: Path) -> None:
    """I want to add a kind of entry."""
    entries = tree / "app" / "services" / "entries"
    (entries / "bodies" / "omen.py").write_text(OMEN, "utf-8")  # 1. the body model
    put(
        entries / "kinds.py",  # 2. one line in BODIES, and its import
        "from app.services.entries.bodies.logger import LoggerFileSent",
        "from app.services.entries.bodies.omen import Omen",
    )
    put(entries / "kinds.py", '    "plan": PlanAsked,', '    "omen": Omen,')


def add_list(tree: Path) -> None:
    """I want to add an export or list."""
    for path, text in (
        (tree / "app/services/sites/tables.py", STEPS_TABLE),  # 1. columns and rows
        (tree / "app/web/routes/sites.py", STEPS_ROUTE),  # 2. a route for .csv and .json
    ):
        path.write_text(path.read_text("utf-8") + text, "utf-8")


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the tree in which every recipe was followed."""
    copy = tmp_path_factory.mktemp("recipes") / "tree"
    copy.mkdir()
    for name in TREE:
        if (ROOT / name).is_dir():
            shutil.copytree(
                ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__", "*.egg-info")
            )
        else:
            shutil.copy(ROOT / name, copy / name)
    add_family(copy)
    add_kind(copy)
    add_list(copy)
    return copy


def run(tree: Path, *words: str, given: str = "") -> str:
    """Run Python in the copy, on a database of its own; return what it prints."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith("SILLBOOK")}
    done = subprocess.run(
        [sys.executable, *words],
        cwd=tree,
        env={**kept, "PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"},
        input=given,
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, f"{words}: {done.stdout[-3000:]}{done.stderr[-3000:]}"
    return done.stdout


@pytest.fixture(scope="module")
def data(tree: Path) -> Path:
    folder = tree.parent / "data"
    person = ("person", "add", NAME, "--role", "steward", "--data", str(folder))
    run(tree, "-m", "app.cli", *person, given=f"{PASSWORD}\n")
    return folder


@pytest.fixture(scope="module")
def seen(tree: Path, data: Path) -> dict[str, Any]:
    said = run(tree, "-m", "tests.house.made_up.look", str(data), NAME, PASSWORD)
    return json.loads(said)  # type: ignore[no-any-return]


def test_the_office_form_offers_the_family(seen: dict[str, Any]) -> None:
    assert 'value="paper_step"' in seen["families offered"]
    assert 'name="dim.w"' in seen["form"]
    assert "Width of the step" in seen["form"]
    assert seen["structure"] == 303


def test_the_phone_carries_its_table(seen: dict[str, Any]) -> None:
    (site,) = seen["pack"]["sites"]
    (rating,) = site["structures"][0]["ratings"]
    nodes, flows = rating["table"]["heads_m"], rating["table"]["discharge_m3s"]
    at = min(range(len(nodes)), key=lambda k: abs(nodes[k] - 0.16))
    assert flows[at] == pytest.approx(1.25 * 0.5 * nodes[at] ** 1.5, rel=1e-6)


def test_how_sure_its_numbers_are(seen: dict[str, Any]) -> None:
    assert "Made up to follow a recipe with: 1.25 w h^1.5" in seen["about"]
    row = next(r for r in seen["about.json"]["rows"] if r["family"] == "paper_step")
    assert row["tested_tolerance_pct"] == 0.1


def test_its_reading_is_rated_and_exported(seen: dict[str, Any], tree: Path, data: Path) -> None:
    (row,) = csv.DictReader(io.StringIO(seen["readings.csv"]))
    assert float(row["discharge_m3s"]) == pytest.approx(0.04, rel=1e-9)  # 1.25 x 0.5 x 0.16^1.5
    assert "paper_step" in row.values()
    by_verb = run(tree, "-m", "app.cli", "export", "SEDGE", "--data", str(data))
    assert next(csv.DictReader(io.StringIO(by_verb)))["reading_id"] == row["reading_id"]


def test_the_command_line_knows_the_family(tree: Path) -> None:
    cards = json.loads(run(tree, "-m", "app.cli", "devices", "--json"))
    assert "paper_step" in {card["family"] for card in cards["rows"]}
    words = ("rate", "paper_step", "--dim", "w=0.5", "--head", "0.16", "--json")
    assert json.loads(run(tree, "-m", "app.cli", *words))["discharge_m3s"] == pytest.approx(0.04)


def test_a_kind_of_entry_is_taken_and_refused(seen: dict[str, Any]) -> None:
    reading, omen, wrong = seen["receipts"]["receipts"]
    assert [one["state"] for one in (reading, omen, wrong)] == ["stored", "stored", "refused"]
    assert "birds" in json.dumps(wrong)
    assert "a heron on the crest" in seen["entry page"]


def test_a_list_is_one_table_in_two_shapes(seen: dict[str, Any]) -> None:
    (row,) = csv.DictReader(io.StringIO(seen["steps.csv"]))
    assert list(row) == list(seen["steps.json"]["rows"][0])
    assert row["formula"] == "'=1+1"  # defused: a text
    assert float(row["height_m"]) == -0.5  # a number never is
    assert seen["stranger"] == 401


def test_the_house_rules_and_the_registry_hold_in_the_copy(tree: Path) -> None:
    rules = [
        path.relative_to(ROOT).as_posix()
        for path in sorted((ROOT / "tests" / "house").glob("test_*.py"))
        if path.name != Path(__file__).name
    ]
    families = (
        "tests/hydraulics/families/test_registry.py",
        "tests/hydraulics/families/test_paper_step.py",
    )
    said = run(tree, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-k", "paper_step", *families)
    assert " passed" in said
    assert " passed" in run(
        tree, "-m", "pytest", "-q", "-p", "no:cacheprovider", "tests/test_rooms.py", *rules
    )


def test_the_recipes_say_these_steps() -> None:
    plan = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    for named in (
        "app/hydraulics/families/<family>.py",
        "families/registry.py",
        "tests/tables/<family>.csv",
        "tests/hydraulics/families/test_<family>.py",
        "app/services/entries/bodies/",
        "listing()",
    ):
        assert named in plan
