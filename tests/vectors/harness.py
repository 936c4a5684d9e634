"""One shape for every file of shared vectors, written and read here and by tests/phone/vectors.js.

A file of tests/tables is {about, cases}; a case is {name, call, args, result or error, source,
provenance}, with {published, tolerance} where something was worked outside this code: by path, such
as ``rl.3``. `result` and `error` are the server's own answers, which the phone must give too.
``python -m tests.vectors [NAME ...]`` writes the files anew after a change of a sum.
"""

import json
import math
from collections.abc import Callable, Sequence
from typing import Any

from app.errors import BadInput
from app.hydraulics.base.result import plain
from tests.paths import TABLES

OWN = ("the server's own answer", "derived")
SHAPE = {"name", "call", "args", "source", "provenance"}
MAY = {"published", "tolerance", "result", "error"}
Case = dict[str, Any]


def answered(act: Callable[[], object]) -> dict[str, Any]:
    """Return {"result": ...} or {"error": {field, rule}}, as JSON values."""
    try:
        return {"result": json.loads(json.dumps(plain(act())))}
    except BadInput as error:
        return {"error": {"field": error.field, "rule": error.rule}}


def case(
    name: str,
    call: str,
    args: object,
    said: dict[str, Any],
    published: dict[str, Any] | None = None,
    tolerance: float = 1e-9,
    source: Sequence[str] = OWN,
) -> Case:
    """Return a case; `said` is {"result": ...} or {"error": ...}, `source` text and provenance."""
    outside = {"published": published, "tolerance": tolerance} if published else {}
    told = {"source": source[0], "provenance": source[1]}
    return {"name": name, "call": call, "args": args, **said, **outside, **told}


def shaped(cases: list[Case]) -> None:
    """Fail unless the cases have the one shape."""
    names = [one["name"] for one in cases]
    assert len(set(names)) == len(names), sorted(n for n in names if names.count(n) > 1)
    for one in cases:
        assert set(one) >= SHAPE, (one["name"], SHAPE - set(one))
        assert set(one) <= SHAPE | MAY, (one["name"], set(one) - SHAPE - MAY)
        assert ("result" in one) != ("error" in one), one["name"]
        assert ("published" in one) == ("tolerance" in one), one["name"]
        assert one["source"], one["name"]
        assert one["provenance"], one["name"]


def text_of(about: str, cases: list[Case]) -> str:
    shaped(cases)
    lines = ",\n".join(json.dumps(one, ensure_ascii=False, allow_nan=False) for one in cases)
    return f'{{"about": {json.dumps(about)}, "cases": [\n{lines}\n]}}\n'


def cases(name: str) -> list[Case]:
    loaded: list[Case] = json.loads((TABLES / f"{name}.json").read_text("utf-8"))["cases"]
    return loaded


def at(value: Any, path: str) -> Any:
    for key in path.split(".") if path else []:
        value = value[int(key)] if isinstance(value, list) else value[key]
    return value


def assert_same(got: Any, wanted: Any, tolerance: float, where: str) -> None:
    """Compare shape, words and numbers; a hash changes with the last digit of a logarithm."""
    if isinstance(wanted, dict):
        assert sorted(got) == sorted(wanted), where
        for key in wanted:
            if key != "hash":
                assert_same(got[key], wanted[key], tolerance, f"{where}.{key}")
    elif isinstance(wanted, list):
        assert len(got) == len(wanted), where
        for i, (mine, theirs) in enumerate(zip(got, wanted, strict=True)):
            assert_same(mine, theirs, tolerance, f"{where}.{i}")
    elif isinstance(wanted, (int, float)) and not isinstance(wanted, bool):
        assert math.isclose(got, wanted, rel_tol=tolerance, abs_tol=tolerance * 1e-3), where
    else:
        assert got == wanted, where
