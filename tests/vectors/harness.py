"""Reads the shared vectors and holds the server to them."""

import json
import math
from typing import Any

from tests.vectors.survey import TABLES, answer


def cases(name: str) -> list[dict[str, Any]]:
    loaded: list[dict[str, Any]] = json.loads((TABLES / f"{name}.json").read_text())["cases"]
    return loaded


def at(value: Any, path: str) -> Any:
    for key in path.split(".") if path else []:
        value = value[int(key)] if isinstance(value, list) else value[key]
    return value


def assert_same(got: Any, wanted: Any, tolerance: float, where: str) -> None:
    """Compare shape, words and numbers."""
    if isinstance(wanted, dict):
        assert sorted(got) == sorted(wanted), where
        for key in wanted:
            assert_same(got[key], wanted[key], tolerance, f"{where}.{key}")
    elif isinstance(wanted, list):
        assert len(got) == len(wanted), where
        for i, (mine, theirs) in enumerate(zip(got, wanted, strict=True)):
            assert_same(mine, theirs, tolerance, f"{where}.{i}")
    elif isinstance(wanted, (int, float)) and not isinstance(wanted, bool):
        assert math.isclose(got, wanted, rel_tol=tolerance, abs_tol=tolerance * 1e-3), where
    else:
        assert got == wanted, where


def hold(case: dict[str, Any]) -> None:
    """Fail unless the server still gives the case's answer and what was published."""
    found = answer(case["call"], case["args"])
    expected = {key: case[key] for key in ("result", "error") if key in case}
    assert_same(found, expected, 1e-9, case["name"])
    for path, wanted in case.get("published", {}).items():
        assert_same(at(found["result"], path), wanted, case["tolerance"], f"{case['name']} {path}")
