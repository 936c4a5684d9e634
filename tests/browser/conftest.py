"""A real server process and a real Chromium, at phone and office size."""

import os
import shutil
import signal
import socket
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from multiprocessing import get_context
from multiprocessing.context import ForkServerProcess
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import (
    Browser,
    BrowserContext,
    Page,
    Playwright,
    ViewportSize,
    sync_playwright,
)

from tests.browser.serve import serve_logged
from tests.conftest import IN_CI

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
    "--disable-default-apps",
]
# The process that servers are forked from imports the application once, not for every server.
FORKS = get_context("forkserver")
FORKS.set_forkserver_preload(["tests.browser.serve"])
PHONE: ViewportSize = {"width": 390, "height": 844}
OFFICE: ViewportSize = {"width": 1280, "height": 800}
CREW, CREW_PASSWORD = "Ines", "wet boots cold hands"
CLERK, CLERK_PASSWORD = "Rudd", "ledger lamp and kettle"


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Server:
    """A demo server that tests may stop, kill and start again on the same port."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.process: ForkServerProcess | None = None

    def start(self, **environment: str) -> None:
        log = self.folder / "server.log"
        self.process = FORKS.Process(
            target=serve_logged, args=(self.folder / "data", self.port, log, environment)
        )
        self.process.start()
        deadline = time.monotonic() + 60
        while time.monotonic() < deadline:
            try:
                httpx.get(self.url + "/sign-in", timeout=2)
                return
            except httpx.TransportError:
                time.sleep(0.05)
        raise RuntimeError(log.read_text()[-2000:])

    def stop(self, sign: int = signal.SIGTERM) -> None:
        if self.process is not None and self.process.pid is not None:
            os.kill(self.process.pid, sign)
            self.process.join(timeout=30)
            self.process = None

    @contextmanager
    def client(self, name: str = CLERK, password: str = CLERK_PASSWORD) -> Iterator[httpx.Client]:
        """Give a signed-in client for looking behind the pages."""
        with httpx.Client(base_url=self.url, timeout=30) as client:
            answer = client.post("/sign-in", data={"name": name, "password": password})
            assert answer.status_code == 303, answer.text
            yield client


@pytest.fixture(scope="session")
def playwright() -> Iterator[Playwright]:
    if CHROMIUM is None:
        if IN_CI:
            pytest.fail("chromium must be installed in CI")
        pytest.skip("Debian's chromium is not installed")
    with sync_playwright() as started:
        yield started


@pytest.fixture(scope="session")
def browser(playwright: Playwright) -> Iterator[Browser]:
    browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def demo_data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the demo scenario once; tests get copies."""
    from app.commands.context import open_session
    from app.demo import build as demo
    from app.settings import Settings

    folder = tmp_path_factory.mktemp("demo") / "data"
    with open_session(Settings.for_folder(folder, demo=True), make=True) as session:
        demo.build(session)
    return folder


@pytest.fixture
def server(tmp_path: Path, demo_data: Path) -> Iterator[Server]:
    """Give a server with its own copy of the demo."""
    shutil.copytree(demo_data, tmp_path / "data")
    server = Server(tmp_path)
    server.start()
    try:
        yield server
    finally:
        server.stop(signal.SIGKILL)


@pytest.fixture(scope="session")
def office_server(tmp_path_factory: pytest.TempPathFactory, demo_data: Path) -> Iterator[Server]:
    """Give one server to all tests that only look."""
    folder = tmp_path_factory.mktemp("office")
    shutil.copytree(demo_data, folder / "data")
    server = Server(folder)
    server.start()
    try:
        yield server
    finally:
        server.stop(signal.SIGKILL)


def watch(page: Page) -> list[str]:
    """Collect what a page complains of: errors, and refusals by the content policy."""
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(f"error: {error}"))

    def heard(message: Any) -> None:
        if "Content Security Policy" in message.text or "violates" in message.text:
            complaints.append(message.text)

    page.on("console", heard)
    return complaints


def sign_in(page: Page, url: str, name: str, password: str, then: str = "/") -> None:
    page.goto(f"{url}/sign-in?next={then}")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(password)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: "/sign-in" not in address)


def until_page(page: Page, condition: str) -> None:
    """Wait until a condition of the page holds; the content policy forbids Playwright's own way.

    `wait_for_function` evaluates its text anew at every look, which the policy allows only at the
    first one: it passes where the condition holds already, and fails where it has to wait.
    """
    page.evaluate(
        "() => new Promise((done) => {"
        f"  const look = () => (({condition}) ? done(true) : setTimeout(look, 50)); look();"
        "})"
    )


@pytest.fixture
def new_phone(browser: Browser) -> Iterator[Callable[..., BrowserContext]]:
    contexts: list[BrowserContext] = []

    def build(**options: Any) -> BrowserContext:
        context = browser.new_context(
            viewport=PHONE, has_touch=True, is_mobile=True, locale="en-NZ", **options
        )
        contexts.append(context)
        return context

    yield build
    for context in contexts:
        context.close()


@pytest.fixture
def desk(browser: Browser) -> Iterator[Page]:
    context = browser.new_context(viewport=OFFICE)
    yield context.new_page()
    context.close()


def since(days: int) -> str:
    return (datetime.now(UTC) - timedelta(days=days)).date().isoformat()


def until(page: Page, met: Callable[[], bool], what: str, seconds: float = 10.0) -> None:
    """Wait for a state, looking again and again; the page's own routes go on meanwhile."""
    deadline = time.monotonic() + seconds
    while not met():
        assert time.monotonic() < deadline, f"waited {seconds:g} s for {what}"
        page.wait_for_timeout(50)


def drafted(page: Page, text: str) -> None:
    """Wait until a half-filled form that holds the text is written on the phone."""
    look = """async (text) => {
      const { openFieldDatabase } = await import("/static/field/keep/database.js");
      const drafts = await (await openFieldDatabase()).getAll("drafts");
      return drafts.some((draft) => JSON.stringify(draft.values).includes(`"${text}"`));
    }"""
    until(page, lambda: bool(page.evaluate(look, text)), f"a draft with {text}")


def notice_touches(page: Page) -> None:
    """Note from now on when the form was last touched, before its own code hears of it."""
    page.evaluate(
        """() => {
          const note = () => { window.touchedAt = new Date().toISOString(); };
          for (const kind of ["input", "change", "click"]) addEventListener(kind, note, true);
        }"""
    )


def drafted_as_touched(page: Page) -> None:
    """Wait until the draft written on the phone is as new as the last touch of its form."""
    look = """async () => {
      const { openFieldDatabase } = await import("/static/field/keep/database.js");
      const drafts = await (await openFieldDatabase()).getAll("drafts");
      return drafts.some((draft) => draft.typed_at >= window.touchedAt);
    }"""
    until(page, lambda: bool(page.evaluate(look)), "the draft of the last touch")


def sent(page: Page) -> None:
    """Wait until no tab is sending: the lock of the sender is free."""
    look = """async () => {
      const { held } = await navigator.locks.query();
      return !held.some(({ name }) => name === "sillbook-send");
    }"""
    until(page, lambda: bool(page.evaluate(look)), "the end of sending")
