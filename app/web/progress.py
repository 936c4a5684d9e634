"""Long work while the browser watches: lines of JSON with how far it is, then its answer.

The work runs in a thread of its own with its own session. When the browser goes away, or the
person cancels, the next report of progress stops the work, before it has written anything.
"""

import json
import logging
import queue
import threading
from collections.abc import AsyncIterator, Callable
from typing import Any

import anyio
from fastapi.responses import StreamingResponse

from app.errors import BadInput
from app.language.progress import Progress
from app.records.trouble import trouble_of

log = logging.getLogger("sillbook")
LINES = "application/x-ndjson"
LOOK_AGAIN_S = 0.1
CRASHED = BadInput(
    "server", "", "the server failed on this", "Nothing was changed. Tell a steward the time."
)


class Cancelled(Exception):  # noqa: N818 - it is no error
    """The person cancelled, or their browser has gone."""


def watched(work: Callable[[Progress], dict[str, Any]]) -> StreamingResponse:
    """Answer with lines {"done", "total"} while `work` runs, then with the line it returns."""
    stop = threading.Event()
    ended: queue.SimpleQueue[dict[str, Any]] = queue.SimpleQueue()
    far = [0, 0]

    def report(done: int, total: int) -> None:
        if stop.is_set():
            raise Cancelled
        far[:] = done, total

    def run() -> None:
        try:
            ended.put(work(report))
        except Cancelled:
            ended.put({"cancelled": True})
        except BadInput as error:
            ended.put({"error": error.as_dict()})
        except Exception as error:
            trouble = trouble_of(error)
            if trouble is not None:
                ended.put({"error": trouble.error.as_dict()})
                return
            log.exception("work in the background failed")
            ended.put({"error": CRASHED.as_dict()})

    async def lines() -> AsyncIterator[str]:
        thread = threading.Thread(target=run, name="import", daemon=True)
        thread.start()
        try:
            while ended.empty():
                yield json.dumps({"done": far[0], "total": far[1]}) + "\n"
                await anyio.sleep(LOOK_AGAIN_S)
            yield json.dumps(ended.get()) + "\n"
        finally:
            stop.set()

    return StreamingResponse(lines(), media_type=LINES, headers={"cache-control": "no-store"})
