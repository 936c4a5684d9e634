"""Paper: nothing that is printed is wider than the paper, whichever of the two it is."""

import pytest
from playwright.sync_api import Browser

from tests.browser.conftest import CLERK, CLERK_PASSWORD, OFFICE, Server, sign_in

# ISO 216 A4 and ANSI letter less the margins of the sheets (14 mm at each side), CSS pixels
PAPER_PX = {"a4": (210 - 28) / 25.4 * 96, "letter": (215.9 - 28) / 25.4 * 96}
LONG_PX = {"a4": (297 - 28) / 25.4 * 96, "letter": (279.4 - 28) / 25.4 * 96}
ON_THE_LONG_SIDE = ("/structures/1/takes",)  # its calendar has a page of its own, turned
WIDER = """() => [...document.querySelectorAll("table, svg, img")]
  .filter((one) => one.getBoundingClientRect().width > 1)
  .filter((one) => one.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
  .map((one) => `${one.tagName} ${one.className.baseVal ?? one.className}`)"""
PRINTED = (
    "/sites/1/sheets/report?from=2026-06-01&to=2026-08-31",
    "/sites/1/sheets/takes",
    "/sites/1/sheets/installation",
    "/sites/1/sheets/field",
    "/sites/1/sheets/card",
    "/structures/1/takes",
    "/structures/1/daily",
    "/structures/1/ratings/1/card",
    "/visits/round",
)


@pytest.mark.parametrize("paper", PAPER_PX)
def test_nothing_printed_is_wider_than_the_paper(
    browser: Browser, office_server: Server, paper: str
) -> None:
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    sign_in(page, office_server.url, CLERK, CLERK_PASSWORD)
    page.emulate_media(media="print")
    found = {}
    for path in PRINTED:
        wide = path in ON_THE_LONG_SIDE
        width = int((LONG_PX if wide else PAPER_PX)[paper])
        page.set_viewport_size({"width": width, "height": 1000})
        answer = page.goto(f"{office_server.url}{path}")
        assert answer is not None
        assert answer.status == 200, path
        found[path] = page.evaluate(WIDER)
    context.close()
    assert {path: what for path, what in found.items() if what} == {}
