"""Take the pictures of README.md anew, of the invented demo: `python -m tests.browser.pictures`."""

import tempfile
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, Page, expect, sync_playwright

from app.commands.context import open_session
from app.demo import build as demo
from app.settings import Settings
from tests.browser.conftest import (
    CHROMIUM,
    CLERK,
    CLERK_PASSWORD,
    CREW,
    CREW_PASSWORD,
    FLAGS,
    OFFICE,
    PHONE,
    Server,
    sign_in,
)
from tests.paths import ROOT

PICTURES = ROOT / "static" / "pictures"


def keep(page: Page, name: str) -> None:
    """Keep what the window shows, in as few colours as the pages have."""
    page.screenshot(path=PICTURES / name)
    Image.open(PICTURES / name).convert("RGB").quantize(64).save(PICTURES / name, optimize=True)


def reading(browser: Browser, url: str) -> None:
    """The head reading of the phone with its discharge below."""
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    page = context.new_page()
    sign_in(page, url, CREW, CREW_PASSWORD, "/field")
    page.get_by_text("Tansy Hollow intake").wait_for()
    page.goto(f"{url}/field/reading?structure=1&occasion=during")
    page.get_by_label("Staff reading 1").fill("251")
    expect(page.locator("footer, .dock").filter(has_text="L/s").first).to_be_visible()
    keep(page, "reading.png")
    context.close()


def history(browser: Browser, url: str) -> None:
    """A site's flow in the office: its workspace and the chart of the record."""
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    sign_in(page, url, CLERK, CLERK_PASSWORD)
    page.goto(f"{url}/structures/1/record")
    plot = page.locator("[data-record] [data-plot]")
    plot.locator("canvas").first.wait_for()
    expect(plot).not_to_have_attribute("aria-busy", "true")
    page.evaluate("document.querySelector('.workspace').scrollIntoView()")
    keep(page, "history.png")
    context.close()


def main() -> None:
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as started:
        settings = Settings.for_folder(Path(folder) / "data", demo=True)
        with open_session(settings, make=True) as session:
            demo.build(session)
        server = Server(Path(folder))
        browser = started.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        try:
            server.start()
            reading(browser, server.url)
            history(browser, server.url)
        finally:
            browser.close()
            server.stop()


if __name__ == "__main__":
    main()
