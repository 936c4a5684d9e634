"""Rules of the house that a person would forget: floors, registry, migrations, vendored files."""

import ast
import hashlib
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlmodel import SQLModel

import app.records
from app.hydraulics.families.registry import DEVICES

assert app.records

ROOT = Path(__file__).resolve().parent.parent
APP = ROOT / "app"

ALLOWED = {
    "hydraulics": {"errors"},
    "records": {"errors", "settings", "paths"},
    "language": {"errors", "hydraulics", "__version__"},
    "services": {"errors", "settings", "paths", "hydraulics", "records", "language", "__version__"},
    "demo": {"errors", "settings", "hydraulics", "records", "language", "services"},
    "web": {"errors", "settings", "paths", "records", "language", "services"},
    "commands": {"errors", "settings", "records", "language", "services", "demo", "main"},
}


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("floor", ALLOWED)
def test_imports_only_point_down(floor: str) -> None:
    for path in (APP / floor).rglob("*.py"):
        for name in imported(path):
            if name.startswith("app."):
                room = name.split(".")[1]
                assert room in {floor, *ALLOWED[floor]}, f"{path} imports {name}"


@pytest.mark.parametrize("path", sorted((APP / "hydraulics").rglob("*.py")), ids=lambda p: p.name)
def test_hydraulics_needs_only_numpy(path: Path) -> None:
    foreign = {"sqlmodel", "sqlalchemy", "fastapi", "pydantic", "scipy", "jinja2", "time"}
    names = {name.split(".")[0] for name in imported(path)}
    assert not names & foreign, f"{path} imports {names & foreign}"


def test_web_and_commands_write_no_sql() -> None:
    for floor in ("web", "commands"):
        for path in (APP / floor).rglob("*.py"):
            names = set(imported(path))
            drawn = {n for n in names if n.startswith(("sqlalchemy", "sqlmodel"))}
            assert drawn <= {"sqlmodel.Session"}, f"{path} imports {drawn}"


def test_a_posted_form_is_answered_in_one_place() -> None:
    """Routes say what is done and shown; `web/posted.py` keeps, takes back and redirects."""
    for path in (APP / "web" / "routes").glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.FunctionDef):
                posts = any("router.post" in ast.unparse(mark) for mark in node.decorator_list)
                caught = [n for n in ast.walk(node) if isinstance(n, ast.ExceptHandler)]
                kinds = {ast.unparse(n.type) for n in caught if n.type}
                assert not (posts and "BadInput" in kinds), f"{path}:{node.lineno} {node.name}"
            if isinstance(node, ast.Attribute):
                assert node.attr not in {"commit", "rollback"}, f"{path}:{node.lineno}"


def test_a_range_of_days_is_read_in_one_place() -> None:
    """Lists ask for `RangeDep`, `AsOfDep`, `SiteDep`; only `web/requests.py` names the fields."""
    for path in (APP / "web" / "routes").glob("*.py"):
        text = path.read_text("utf-8")
        for words in ('alias="from"', 'alias="to"', "span_of(", '"no-store"', "StreamingResponse"):
            assert words not in text, f"{path} has {words} of its own"


def test_only_the_registry_names_a_family() -> None:
    pattern = re.compile(rf"""["']({"|".join(map(re.escape, DEVICES))})["']""")
    for path in APP.rglob("*.py"):
        if "families" not in path.parts:
            found = pattern.search(path.read_text("utf-8"))
            assert found is None, f"{path} names the family {found.group() if found else ''}"


def test_no_drawers_and_no_long_files() -> None:
    for path in APP.rglob("*.py"):
        assert path.stem not in {"utils", "common", "helpers"}, path
        lines = len(path.read_text("utf-8").splitlines())
        assert lines <= 300, f"{path} has {lines} lines: which second job moved in?"


def test_top_level_is_the_agreed_one() -> None:
    agreed = {
        "README.md",
        "DEVELOPERS.md",
        "LICENSE",
        "pyproject.toml",
        "app",
        "templates",
        "static",
        "tests",
        "migrations",
        "sillbook-demo",  # what `sillbook demo` makes; ignored by git
        "sillbook-data",
    }
    here = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    assert here <= agreed | {p for p in here if p.endswith(".egg-info")}


def test_public_hydraulics_say_what_they_take_and_give() -> None:
    for path in (APP / "hydraulics").rglob("*.py"):
        tree = ast.parse(path.read_text("utf-8"))
        assert ast.get_docstring(tree) is not None, f"{path} has no idea paragraph"
        for node in tree.body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                assert ast.get_docstring(node), f"{path}:{node.lineno} {node.name}"


def test_migrated_schema_equals_the_models(engine: sa.Engine) -> None:
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, SQLModel.metadata) == []


def test_vendored_files_are_what_they_say() -> None:
    listed = tomllib.loads((ROOT / "static" / "vendor" / "VENDOR.toml").read_text("utf-8"))
    named: set[str] = set()
    for package in listed["package"]:
        assert package["version"]
        assert package["licence"]
        assert any(path.endswith("LICENSE") for path in package["files"]), package["name"]
        for path, sha256 in package["files"].items():
            assert hashlib.sha256((ROOT / path).read_bytes()).hexdigest() == sha256, path
            named.add(path)
    held = {
        path.relative_to(ROOT).as_posix()
        for folder in (ROOT / "static" / "vendor", ROOT / "tests" / "browser" / "vendor")
        for path in folder.rglob("*")
        if path.is_file() and path.name != "VENDOR.toml"
    }
    assert held == named
