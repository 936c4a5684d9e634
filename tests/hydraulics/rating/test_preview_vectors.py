"""The vectors that the phone is tested with are what the server answers today."""

import json
from typing import Any

import pytest

from tests.vectors.preview import FILE, vectors


def same(now: Any, kept: Any) -> bool:
    if isinstance(now, float) and isinstance(kept, int | float):
        return bool(now == pytest.approx(kept, rel=1e-6, abs=1e-9))
    if isinstance(now, dict):
        # the hash changes with the last digit of any platform's logarithm
        return now.keys() == kept.keys() and all(same(now[k], kept[k]) for k in now if k != "hash")
    if isinstance(now, list):
        return len(now) == len(kept) and all(map(same, now, kept))
    return bool(now == kept)


def test_kept_vectors_are_the_servers_answers() -> None:
    kept = json.loads(FILE.read_text(encoding="utf-8"))
    now = json.loads(json.dumps(vectors()))
    assert same(now, kept), "write them anew: python -m tests.vectors.preview"
