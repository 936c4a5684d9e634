"""Saving and opening on the phone, slowed four times: tap to "on this phone", first paint offline.

Beside the time on the clock stands what the page's main thread worked: on a machine that others
load too only the second says what the page itself costs.

The peer is a bare strict IndexedDB write of the same record in the same page.
"""

import shutil
import tempfile
from pathlib import Path

import numpy as np
from playwright.sync_api import CDPSession, Page, sync_playwright

from app.commands.context import open_session
from app.demo import build as demo
from app.settings import Settings
from tests.browser.conftest import CHROMIUM, CREW, CREW_PASSWORD, FLAGS, PHONE, Server, sign_in

SAVES = 25
GOAL_MS = 60.0
PAINT_GOAL_MS = 200.0
PAINTS = 12
SLOWER = 4

TAP_TO_SAVED = """() => new Promise((done) => {
  const begin = performance.now();
  const look = () => {
    if (!document.getElementById("saved").hidden) done(performance.now() - begin);
    else requestAnimationFrame(look);
  };
  document.getElementById("save").click();
  look();
})"""

BOX_THERE = """() => new Promise((done) => {
  const look = () => {
    if (document.querySelector("#heads input")) done(performance.now());
    else setTimeout(look, 5);
  };
  look();
})"""

BARE_WRITE = """async () => {
  const { openFieldDatabase } = await import("/static/field/keep/database.js");
  const db = await openFieldDatabase();
  const [record] = await db.getAll("entries");
  const begin = performance.now();
  const tx = db.transaction(["entries"], "readwrite", { durability: "strict" });
  tx.objectStore("entries").put(record);
  await tx.done;
  return performance.now() - begin;
}"""


def run() -> list[str]:
    if CHROMIUM is None:
        return ["chromium is not installed: not measured"]
    folder = Path(tempfile.mkdtemp())
    with open_session(Settings.for_folder(folder / "data", demo=True), make=True) as session:
        demo.build(session)
    server = Server(folder)
    server.start()
    try:
        return measure(server)
    finally:
        server.stop()
        shutil.rmtree(folder)


def measure(server: Server) -> list[str]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = browser.new_context(viewport=PHONE, has_touch=True).new_page()
        sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
        page.get_by_text("Tansy Hollow intake").wait_for()
        page.evaluate("navigator.serviceWorker.ready.then(() => true)")
        page.route("**/sync", lambda route: None)  # never answered
        devtools = page.context.new_cdp_session(page)
        devtools.send("Performance.enable", {"timeDomain": "threadTicks"})
        devtools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
        saves = np.array([one_save(page, server, devtools) for _ in range(SAVES)])
        bare = np.array([page.evaluate(BARE_WRITE) for _ in range(SAVES)])
        page.context.set_offline(True)
        paints = np.array([one_opening(page, server, devtools) for _ in range(PAINTS)])
        browser.close()
    clock, worked = saves.T
    p95, median = np.percentile(clock, 95), np.median(clock)
    return [
        f"save to 'on this phone', CPU / {SLOWER}, network hanging: "
        f"median {median:.0f} ms, p95 {p95:.0f} ms (goal <= {GOAL_MS:.0f} ms); "
        f"main thread median {np.median(worked):.0f} ms, p95 {np.percentile(worked, 95):.0f} ms",
        f"median save: {median / np.median(bare):.1f} x a bare strict write",
        f"reading page opened offline, CPU / {SLOWER}: first paint median "
        f"{np.median(paints[:, 0]):.0f} ms (goal <= {PAINT_GOAL_MS:.0f} ms), "
        f"box there {np.median(paints[:, 1]):.0f} ms; main thread {np.median(paints[:, 2]):.0f} ms",
    ]


def worked_ms(devtools: CDPSession) -> float:
    """Return what the main thread has worked since the page began, in its own time."""
    metrics = devtools.send("Performance.getMetrics")["metrics"]
    return 1000 * float(next(one["value"] for one in metrics if one["name"] == "TaskDuration"))


def one_save(page: Page, server: Server, devtools: CDPSession) -> tuple[float, float]:
    page.goto(f"{server.url}/field/reading?structure=1&occasion=during")
    page.get_by_label("Staff reading 1").fill("251")
    page.wait_for_timeout(300)
    before = worked_ms(devtools)
    taken: float = page.evaluate(TAP_TO_SAVED)
    return taken, worked_ms(devtools) - before


def one_opening(page: Page, server: Server, devtools: CDPSession) -> tuple[float, float, float]:
    page.goto(f"{server.url}/field/outbox")
    page.goto(f"{server.url}/field/reading?structure=1&occasion=during", wait_until="commit")
    there: float = page.evaluate(BOX_THERE)
    painted: float = page.evaluate(
        "performance.getEntriesByName('first-contentful-paint')[0]?.startTime ?? NaN"
    )
    page.wait_for_timeout(500)
    return painted, there, worked_ms(devtools)
