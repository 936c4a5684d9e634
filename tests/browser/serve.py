"""Serve a demo folder for the browser tests: `python -m tests.browser.serve FOLDER PORT`."""

import os
import sys
from pathlib import Path

import uvicorn

from app.main import create_app
from app.settings import Settings


def serve(folder: Path, port: int) -> None:
    """Serve the demo in `folder` until a signal comes."""
    application = create_app(Settings.for_folder(folder, demo=True))
    if release := os.environ.get("SILLBOOK_TEST_RELEASE"):
        application.state.version = release.rjust(16, "0")
    uvicorn.run(application, host="127.0.0.1", port=port, log_level="warning")


def serve_logged(folder: Path, port: int, log: Path, environment: dict[str, str]) -> None:
    """Serve with what is said going to a file: what a forked process runs."""
    with log.open("ab") as said:
        for stream in (1, 2):
            os.dup2(said.fileno(), stream)
    os.environ.update(environment)
    serve(folder, port)


if __name__ == "__main__":
    serve(Path(sys.argv[1]), int(sys.argv[2]))
