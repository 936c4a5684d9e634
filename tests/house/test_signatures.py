"""Many figures are named where they are handed over: nobody counts to the eighth argument."""

import ast

from tests.house.source import nodes

MOST = 6
# Registered by a decorator or the table of `app/cli.py`: the framework hands over by name.
BY_NAME = ("app/commands/", "app/web/routes/")


def fields(node: ast.ClassDef) -> list[str]:
    lines = [x for x in node.body if isinstance(x, ast.AnnAssign)]
    return [ast.unparse(x.target) for x in lines if "ClassVar" not in ast.unparse(x.annotation)]


def test_a_dataclass_of_many_fields_is_made_by_name() -> None:
    met = 0
    for path, node in nodes(ast.ClassDef):
        assert isinstance(node, ast.ClassDef)
        marks = [ast.unparse(x) for x in node.decorator_list if "dataclass" in ast.unparse(x)]
        if marks and len(fields(node)) > MOST:
            met += 1
            assert "kw_only=True" in marks[0], f"{path}:{node.lineno} {node.name}"
    assert met > 50  # the rule reads what it is about


def test_no_call_hands_over_many_by_place() -> None:
    for path, node in nodes(ast.Call):
        assert isinstance(node, ast.Call)
        assert len(node.args) <= MOST, f"{path}:{node.lineno} {ast.unparse(node.func)}"


def test_no_function_takes_many_by_place() -> None:
    for path, node in nodes(ast.FunctionDef, ast.AsyncFunctionDef):
        assert isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        if path.startswith(BY_NAME) and (node.decorator_list or path.startswith("app/commands/")):
            continue
        taken = [x.arg for x in node.args.posonlyargs + node.args.args]
        taken = [name for name in taken if name not in ("self", "cls")]
        assert len(taken) <= MOST, f"{path}:{node.lineno} {node.name}({', '.join(taken)})"
