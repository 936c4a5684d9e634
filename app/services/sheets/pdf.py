"""A page as PDF, by what is on this machine: a browser without a window, or WeasyPrint."""

import importlib
import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from app.errors import BadInput

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome")
MOST_S = 120
ROOT_FLAGS = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
"""A browser that root starts has no sandbox; anybody else's keeps it."""
NONE_HERE = BadInput(
    "pdf",
    "",
    "nothing on this machine makes a PDF",
    "Install chromium, or `pip install 'sillbook[pdf]'`; or print the page from a browser.",
)


def as_pdf(page: str, target: Path) -> None:
    """Write a whole page, with styles and pictures inside, as PDF.

    Raises
    ------
    BadInput
        When nothing here makes a PDF, or what is here fails.
    """
    browser = next((found for name in BROWSERS if (found := shutil.which(name))), None)
    if browser is not None:
        _by_browser(browser, page, target)
        return
    try:
        weasyprint = importlib.import_module("weasyprint")
    except ImportError:
        raise NONE_HERE from None
    weasyprint.HTML(string=page).write_pdf(str(target))


def _by_browser(browser: str, page: str, target: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        source, made = Path(folder) / "sheet.htm", Path(folder) / "sheet.pdf"
        source.write_text(page, encoding="utf-8")
        order = [
            browser, *ROOT_FLAGS, "--headless", "--disable-gpu", "--no-first-run",
            "--disable-dev-shm-usage", f"--user-data-dir={folder}/profile",
            "--no-pdf-header-footer", "--host-resolver-rules=MAP * ~NOTFOUND",
            f"--print-to-pdf={made}", source.as_uri(),
        ]  # fmt: skip
        try:
            # `run` ends the browser by itself when the time is up
            done = subprocess.run(order, capture_output=True, timeout=MOST_S, check=False)
        except subprocess.TimeoutExpired:
            raise _failed(f"it took over {MOST_S} s") from None
        if done.returncode or not made.is_file():
            raise _failed(done.stderr.decode(errors="replace")[-200:].strip() or "no word why")
        shutil.copyfile(made, target)


def _failed(why: str) -> BadInput:
    remedy = "Leave --pdf out and print the page from a browser."
    return BadInput("pdf", "", f"the browser here made no PDF ({why})", remedy)
