"""Every test claims something, and more of an answer than its status; none waits for a time."""

import ast
from pathlib import Path

from tests.paths import ROOT

TESTS = ROOT / "tests"
ONLY_A_STATUS: dict[str, str] = {}
"""Tests whose whole claim is a status code, with the reason; a refusal belongs into the table of
tests/web/test_refusals.py instead."""

Function = ast.FunctionDef | ast.AsyncFunctionDef


def functions(path: Path) -> list[Function]:
    tree = ast.parse(path.read_text("utf-8"))
    return [node for node in ast.walk(tree) if isinstance(node, Function)]


def called(node: ast.AST) -> set[str]:
    found = set()
    for each in ast.walk(node):
        if isinstance(each, ast.Call):
            target = each.func
            found.add(
                target.attr if isinstance(target, ast.Attribute) else getattr(target, "id", "")
            )
    return found


def claims(function: Function, helpers: set[str]) -> bool:
    asserted = any(isinstance(node, ast.Assert) for node in ast.walk(function))
    names = called(function)
    numpy = any(name.startswith("assert_") for name in names)
    return asserted or numpy or bool(names & (helpers | {"raises", "warns", "fail", "expect"}))


def claiming(every: list[Function]) -> set[str]:
    """Return the names of helpers that assert, by themselves or by another helper."""
    found: set[str] = set()
    while True:
        more = {f.name for f in every if not f.name.startswith("test_") and claims(f, found)}
        if more == found:
            return found
        found = more


def only_a_status(function: Function) -> bool:
    asserts = [node for node in ast.walk(function) if isinstance(node, ast.Assert)]
    return bool(asserts) and all(
        isinstance(one.test, ast.Compare)
        and ("status_code" in ast.unparse(one.test) or ast.unparse(one.test.left) == "status")
        for one in asserts
    )


def test_every_test_claims_something() -> None:
    every = [each for path in TESTS.rglob("*.py") for each in functions(path)]
    helpers = claiming(every)
    silent = [f.name for f in every if f.name.startswith("test_") and not claims(f, helpers)]
    assert not silent, f"these assert nothing: {silent}"


def test_no_test_looks_at_a_status_alone() -> None:
    found = set()
    for path in TESTS.rglob("test_*.py"):
        for function in functions(path):
            names = called(function)
            told = names & {"told", "raises", "expect", "proves"}
            if function.name.startswith("test_") and only_a_status(function) and not told:
                found.add(f"{path.relative_to(TESTS).as_posix()}::{function.name}")
    assert found == set(ONLY_A_STATUS), found ^ set(ONLY_A_STATUS)


def test_a_test_of_a_page_waits_for_a_state() -> None:
    """A span of time is too short on a slow machine and lost on a fast one: `until` looks again."""
    for path in (TESTS / "browser").glob("test_*.py"):
        waits = {each for function in functions(path) for each in called(function)}
        assert not waits & {"sleep", "wait_for_timeout"}, f"{path.name}: wait for a state"
    for path in (TESTS / "phone").glob("*.test.js"):
        assert "setTimeout" not in path.read_text("utf-8"), f"{path.name}: wait for a state"
