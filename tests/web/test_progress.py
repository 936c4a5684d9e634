"""Long work in lines: progress, the answer last, and cancelling that stops the work."""

import json
import threading
import time
from typing import Any

import anyio
import pytest

from app.errors import BadInput
from app.language.progress import Progress
from app.web.progress import watched


def read(work: Any, most: int | None = None) -> list[dict[str, Any]]:
    """Read the lines of an answer, all of them or the first ones before going away."""
    found: list[dict[str, Any]] = []

    async def run() -> None:
        lines = watched(work).body_iterator
        async for line in lines:
            found.append(json.loads(line))
            if most is not None and len(found) >= most:
                await lines.aclose()  # type: ignore[attr-defined]
                break

    # In a thread of its own: a browser driver may hold this one's event loop.
    thread = threading.Thread(target=anyio.run, args=(run,))
    thread.start()
    thread.join(30)
    assert not thread.is_alive()
    return found


def test_the_answer_comes_last() -> None:
    def work(report: Progress) -> dict[str, Any]:
        report(1, 2)
        time.sleep(0.25)
        report(2, 2)
        return {"html": "done"}

    lines = read(work)
    assert lines[-1] == {"html": "done"}
    assert {"done": 1, "total": 2} in lines


def test_who_goes_away_stops_the_work() -> None:
    ended = threading.Event()
    written: list[int] = []

    def work(report: Progress) -> dict[str, Any]:
        try:
            for k in range(1000):
                report(k, 1000)
                time.sleep(0.01)
            written.append(1)
            return {}
        finally:
            ended.set()

    read(work, most=2)
    assert ended.wait(10)
    assert written == []


@pytest.mark.parametrize("error", [BadInput("row 3", "x", "no", "mend it"), ValueError("bug")])
def test_what_goes_wrong_is_said(error: Exception) -> None:
    def work(report: Progress) -> dict[str, Any]:
        raise error

    (last,) = read(work)[-1:]
    assert last["error"]["remedy"]
    assert "bug" not in json.dumps(last)
