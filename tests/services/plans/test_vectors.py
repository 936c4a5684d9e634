"""The vectors that phone and server share are what the server says today."""

import json

import pytest

from tests.vectors.plan import FILE, KEYS, vectors


def test_the_file_is_what_the_server_says() -> None:
    held, now = json.loads(FILE.read_text("utf-8")), vectors()
    assert [v["name"] for v in held] == [v["name"] for v in now]
    for old, new in zip(held, now, strict=True):
        assert old["crest_needed_m"] == pytest.approx(new["crest_needed_m"])
        for a, b in zip(old["flows"], new["flows"], strict=True):
            assert [a[k] for k in KEYS] == pytest.approx([b[k] for k in KEYS])
