"""The vectors that the phone's install sums are held to are what the server answers today."""

import json
from typing import Any

import pytest

from tests.vectors.install import FILE, vectors


def same(now: Any, kept: Any) -> bool:
    if isinstance(now, float) and isinstance(kept, int | float):
        return bool(now == pytest.approx(kept, rel=1e-12, abs=1e-12))
    if isinstance(now, dict):
        return now.keys() == kept.keys() and all(same(now[k], kept[k]) for k in now)
    if isinstance(now, list):
        return len(now) == len(kept) and all(map(same, now, kept))
    return bool(now == kept)


def test_kept_vectors_are_the_servers_answers() -> None:
    kept = json.loads(FILE.read_text(encoding="utf-8"))
    assert same(json.loads(json.dumps(vectors())), kept), (
        "write them anew: python -m tests.vectors.install"
    )


def at(value: Any, path: str) -> Any:
    for part in filter(None, path.split(".")):
        value = value[int(part)] if isinstance(value, list) else value[part]
    return value


def test_answers_agree_with_what_was_worked_outside_the_code() -> None:
    """Sources stand beside each case: statics and hydrostatics by hand, Lane 1935 from memory."""
    held = [case for case in vectors()["cases"] if "published" in case]
    assert len(held) > 8
    for case in held:
        for path, value in case["published"].items():
            assert at(case["result"], path) == pytest.approx(value, rel=1e-6), (case["call"], path)
