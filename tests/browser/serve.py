"""Serve a demo folder for the browser tests: `python -m tests.browser.serve FOLDER PORT`."""

import os
import sys
from pathlib import Path

import uvicorn

from app.main import create_app
from app.settings import Settings

if __name__ == "__main__":
    application = create_app(Settings.for_folder(Path(sys.argv[1]), demo=True))
    if release := os.environ.get("SILLBOOK_TEST_RELEASE"):
        application.state.version = release.rjust(16, "0")
    uvicorn.run(
        application,
        host="127.0.0.1",
        port=int(sys.argv[2]),
        log_level="warning",
    )
