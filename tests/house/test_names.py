"""What a name promises: `_name` stays in its file, and one file alone reads what an entry names."""

import ast

from tests.house.source import APP, trees
from tests.paths import ROOT

LINK = "corrects_id"
LINK_HOME = "app/services/entries/links.py"


def private(name: str) -> bool:
    return name.startswith("_") and not name.startswith("__")


def test_an_underscore_name_stays_in_its_file() -> None:
    for path, tree in trees().items():
        modules = set()
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom):
                taken = [alias.name for alias in node.names if private(alias.name)]
                assert not taken, f"{path}:{node.lineno} imports {taken}"
                modules |= {alias.asname or alias.name for alias in node.names}
            elif isinstance(node, ast.Import):
                modules |= {alias.asname or alias.name for alias in node.names}
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                reached = node.value.id in modules and private(node.attr)
                assert not reached, f"{path}:{node.lineno} {ast.unparse(node)}"


def test_one_services_file_reads_what_an_entry_corrects() -> None:
    named = {
        path.relative_to(ROOT).as_posix()
        for path in APP.rglob("*.py")
        if LINK in path.read_text("utf-8")
    }
    assert named == {"app/records/entries.py", LINK_HOME}
