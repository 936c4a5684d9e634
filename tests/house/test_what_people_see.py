"""Lists and drawings are made in files named after what people see; arithmetic never draws."""

import ast

from tests.house.source import called, trees

SEEN = {"page", "tables", "columns", "charts", "drawing", "export", "card", "report"}
LANGUAGE = {"app.language.tables": {"Column"}, "app.language.drawing": {"Drawing"}}


def makers(tree: ast.Module) -> set[str]:
    """Return the names by which a file knows the classes of columns and drawings."""
    return {
        alias.asname or alias.name
        for node in ast.walk(tree)
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
        if alias.name in LANGUAGE.get(node.module or "", ())
    }


def test_only_what_people_see_makes_columns_and_drawings() -> None:
    met = set()
    for path, tree in trees().items():
        names = makers(tree)
        made = [n for n in ast.walk(tree) if isinstance(n, ast.Call) and called(n) in names]
        if made:
            stem = path.rsplit("/", 1)[-1].removesuffix(".py")
            met.add(stem)
            assert stem in SEEN, f"{path}:{made[0].lineno} makes a {called(made[0])}"
    assert {"tables", "drawing", "export"} <= met


def test_arithmetic_knows_no_drawing_and_no_list() -> None:
    for path, tree in trees().items():
        if path.startswith("app/hydraulics/"):
            assert not makers(tree), path
