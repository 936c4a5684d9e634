"""The source of `app/` as trees, for the house rules that read it."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from tests.paths import ROOT

APP = ROOT / "app"


@cache
def trees() -> dict[str, ast.Module]:
    """Return every module of the app by its path from the top."""
    found = sorted(APP.rglob("*.py"))
    return {p.relative_to(ROOT).as_posix(): ast.parse(p.read_text("utf-8")) for p in found}


def nodes(*kinds: type[ast.AST]) -> Iterator[tuple[str, ast.AST]]:
    """Yield all nodes of some kinds, each with the path of its file."""
    for path, tree in trees().items():
        for node in ast.walk(tree):
            if isinstance(node, kinds):
                yield path, node


def module_of(path: str | Path) -> str:
    """Return the dotted name of a file given by its path from the top."""
    return str(path).removesuffix(".py").removesuffix("/__init__").replace("/", ".")


def called(node: ast.Call) -> str:
    """Return the last name of what is called: `b` of `a.b(...)`."""
    function = node.func
    return function.attr if isinstance(function, ast.Attribute) else ast.unparse(function)
