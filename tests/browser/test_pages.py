"""Every page, phone and office: no accessibility fault, no refusal by the content policy.

The list of pages comes from the routes themselves, so a new page is looked at without a line here.
"""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from fastapi.routing import APIRoute
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize

from app.web.routers import ROUTERS
from tests.browser.conftest import (
    CREW,
    CREW_PASSWORD,
    OFFICE,
    PHONE,
    Server,
    sign_in,
    watch,
)

AXE = next((Path(__file__).parent / "vendor").rglob("axe.min.js"))
NO_PAGES = ("/kept/", "/sw.js", "/static/", "/pack", "/manifest")
SITE_PAGES = ("/readings", "/loggers", "/gaugings", "/levels", "/plans", "/changes")
SMALL_DESK: ViewportSize = {"width": 1024, "height": 768}
SCREENS = 3  # a page longer than these has an outline, or comes in parts
STEWARD, STEWARD_PASSWORD = "Steward", "keys to the gauge house"


def page_paths() -> list[str]:
    """Return the paths of all routes that answer a page."""
    found = []
    for router in ROUTERS:
        for route in router.routes:
            if isinstance(route, APIRoute) and "GET" in (route.methods or ()):
                data = route.path.endswith(
                    (".csv", ".json", ".svg", ".png", ".js", ".zip", "/data/file")
                )
                goes_on = route.path.endswith("/which-flume/plan")  # to the form of a plan
                if not (data or goes_on or route.path.startswith(NO_PAGES)):
                    found.append(route.path)
    return sorted(set(found))


class Names:
    """Real ids of the demo for the parts in braces of a path."""

    def __init__(self, client: httpx.Client) -> None:
        self.client = client
        self.known = {"site_id": "1", "structure_id": "1"}

        self.pages = [f"/sites/{n}{end}" for n in (1, 2, 3) for end in ("", *SITE_PAGES)]

    def fill(self, path: str) -> str | None:
        """Return the path with ids; None when the demo has nothing of that kind."""
        for name in re.findall(r"\{(\w+)\}", path):
            value = self.known.get(name) or self.look_up(path)
            if value is None:
                return None
            path = path.replace("{" + name + "}", value)
        return path

    def look_up(self, path: str) -> str | None:
        """Find a link to such a page on the pages of the demo's sites."""
        pattern = re.compile(
            r'href="' + re.sub(r"\\\{\w+\\\}", r"([\\w-]+)", re.escape(path)) + '["?#]'
        )
        for page in self.pages:
            answer = self.client.get(page, headers={"accept": "text/html"})
            if answer.status_code == 200 and (match := pattern.search(answer.text)):
                return match.group(1)
        return None


def faults(page: Page) -> list[str]:
    """Run axe on a page; return rule, target and remedy of each violation."""
    page.evaluate(AXE.read_text("utf-8"))
    found: dict[str, Any] = page.evaluate("axe.run({ resultTypes: ['violations'] })")
    return [
        f"{v['id']}: {v['nodes'][0]['target']} {v['nodes'][0]['failureSummary']}"
        for v in found["violations"]
    ]


@pytest.fixture(scope="module")
def desk_page(browser: Browser, office_server: Server) -> Iterator[Page]:
    context = browser.new_context(viewport=OFFICE, accept_downloads=False)
    page = context.new_page()
    sign_in(page, office_server.url, STEWARD, STEWARD_PASSWORD)
    yield page
    context.close()


@pytest.fixture(scope="module")
def phone_page(browser: Browser, office_server: Server) -> Iterator[Page]:
    context = browser.new_context(viewport=PHONE, has_touch=True, is_mobile=True)
    page = context.new_page()
    sign_in(page, office_server.url, CREW, CREW_PASSWORD, "/field")
    page.get_by_text("Tansy Hollow intake").wait_for()
    yield page
    context.close()


def check(page: Page, url: str) -> None:
    complaints = watch(page)
    answer = page.goto(url)
    assert answer is not None
    assert answer.status < 400, (url, answer.status)
    page.wait_for_load_state("networkidle")
    assert complaints == []
    assert faults(page) == []


def overflow(page: Page) -> int:
    wide: int = page.evaluate(
        "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    )
    return wide


@pytest.mark.parametrize(
    "path", [p for p in page_paths() if not p.startswith(("/field", "/offline"))]
)
def test_office_page(desk_page: Page, office_server: Server, path: str) -> None:
    with office_server.client(STEWARD, STEWARD_PASSWORD) as client:
        filled = Names(client).fill(path)
    if filled is None:
        pytest.skip(f"the demo links to no {path}")
    check(desk_page, office_server.url + filled)
    long = desk_page.evaluate("document.documentElement.scrollHeight") > SCREENS * OFFICE["height"]
    ways = desk_page.locator("nav.outline a, nav.parts a, .jump a").count()
    assert not long or ways, "longer than a person scrolls, no way in it"
    wide = """() => [...document.querySelectorAll("main *")]
        .filter((e) => !e.closest(".scroll") && e.getBoundingClientRect().right > innerWidth + 1)
        .slice(0, 4).map((e) => e.outerHTML.slice(0, 160))"""
    stuck = """() => [...document.querySelectorAll(".scroll")]
        .filter((e) => e.scrollWidth > e.clientWidth + 1 && e.tabIndex < 0)
        .map((e) => e.outerHTML.slice(0, 160))"""
    for size in (SMALL_DESK, PHONE):
        desk_page.set_viewport_size(size)
        width = size["width"]
        assert overflow(desk_page) <= 0, f"wider than {width} px: {desk_page.evaluate(wide)}"
        assert desk_page.evaluate(stuck) == [], f"not scrolled by the keyboard at {width} px"
    desk_page.set_viewport_size(OFFICE)


@pytest.mark.parametrize("path", [p for p in page_paths() if p.startswith(("/field", "/offline"))])
@pytest.mark.parametrize("theme", ["calm", "sun"])
def test_field_page(phone_page: Page, office_server: Server, path: str, theme: str) -> None:
    query = "?id=1&site=1&structure=1&occasion=during"
    phone_page.evaluate(f"localStorage.setItem('sillbook-theme', '{theme}')")
    check(phone_page, office_server.url + path + query)
    assert overflow(phone_page) <= 0


def test_signed_out_pages(browser: Browser, office_server: Server) -> None:
    context: BrowserContext = browser.new_context(viewport=PHONE)
    page = context.new_page()
    for path in ("/sign-in", "/field", "/offline"):
        check(page, office_server.url + path)
    context.close()
