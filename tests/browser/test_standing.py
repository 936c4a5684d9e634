"""A tested rating on a desk of 1280 x 800: charts, keyboard, address, fit, print."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import CLERK, CLERK_PASSWORD, OFFICE, PHONE, Server, sign_in, watch
from tests.browser.test_pages import faults, overflow

A_PAGE = re.compile(rb"/Type\s*/Page[^s]")


@pytest.fixture
def office_desk(browser: Browser, server: Server) -> Iterator[Page]:
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    complaints = watch(page)
    sign_in(page, server.url, CLERK, CLERK_PASSWORD)
    yield page
    assert complaints == []
    context.close()


def look_at(page: Page, address: str) -> None:
    page.goto(address)
    page.wait_for_load_state("networkidle")
    assert faults(page) == []
    page.set_viewport_size(PHONE)
    assert overflow(page) <= 0, "wider than a phone"
    page.set_viewport_size(OFFICE)


def test_charts_are_drawn_and_read_by_keyboard(office_desk: Page, server: Server) -> None:
    page = office_desk
    page.goto(f"{server.url}/sites/2")
    page.get_by_role("link", name="Gaugings and rating").click()
    page.get_by_role("link", name="Rating tests").click()
    expect(page.get_by_text("Look at this rating")).to_be_visible()
    expect(page.locator(".plot canvas")).to_have_count(3)
    assert faults(page) == []
    plot, said = page.locator('[data-plot="time"]'), page.locator('[data-readout="time"]')
    plot.focus()
    page.keyboard.press("ArrowRight")
    expect(said).to_contain_text("of the rating")
    first = said.text_content()
    page.keyboard.press("ArrowRight")
    expect(said).not_to_have_text(first or "")
    page.keyboard.press("Home")
    expect(said).to_have_text(first or "")
    page.keyboard.press("Enter")
    page.wait_for_url("**/gaugings/*")


def test_pointer_and_scale(office_desk: Page, server: Server) -> None:
    page = office_desk
    page.goto(f"{server.url}/structures/2/rating-tests")
    expect(page.locator('[data-plot="curve"] canvas')).to_be_visible()
    page.get_by_role("link", name="logarithmic, both axes").click()
    page.wait_for_url("**scale=log**")
    place = page.locator('[data-plot="curve"] .u-over')
    place.scroll_into_view_if_needed()
    place.wait_for()
    box = place.bounding_box()
    assert box is not None
    readout = page.locator('[data-readout="curve"]')
    for k in range(60):  # along the diagonal some gauging is met
        x, y = box["x"] + box["width"] * k / 60, box["y"] + box["height"] * (1 - k / 60)
        page.mouse.move(x, y)
        if "gauged" in (readout.text_content() or ""):
            break
    expect(readout).to_contain_text("gauged")
    look_at(page, page.url)


def test_a_fit_looked_at_and_made_a_rating(office_desk: Page, server: Server) -> None:
    page = office_desk
    look_at(page, f"{server.url}/structures/2/fits")
    expect(page.locator('[data-plot="fit"] canvas')).to_be_visible()
    row = page.locator("table.gauged tbody tr").first
    row.get_by_role("checkbox").check()
    page.get_by_role("button", name="Fit again").click()
    expect(page.get_by_role("alert")).to_contain_text("left out only for a reason")
    assert faults(page) == []
    row.get_by_role("textbox").fill("gate moved (invented)")
    page.get_by_role("button", name="Fit again").click()
    expect(page.get_by_role("alert")).to_have_count(0)
    page.get_by_label("In force from").fill("2026-01-01T00:00")
    page.get_by_label("Reason", exact=False).last.fill("Two seasons of gaugings (invented)")
    page.get_by_role("button", name="See what would change").click()
    expect(page.get_by_text("Nothing is stored yet")).to_be_visible()
    expect(page.get_by_text("gate moved (invented)")).to_be_visible()
    assert faults(page) == []
    with server.client() as client:
        assert len(client.get("/sites/2/ratings.json").json()["rows"]) == 1
    page.get_by_role("button", name="Make it a rating").click()
    page.wait_for_url("**/sites/2/rate-again")
    with server.client() as client:
        assert len(client.get("/sites/2/ratings.json").json()["rows"]) == 2
    look_at(page, f"{server.url}/structures/2/rating-tests?every=yes")
    expect(page.get_by_text("This rating is a fit")).to_be_visible()


@pytest.mark.parametrize(("structure", "rating", "step", "pages"), [(1, 1, 1, 2), (2, 2, 5, 1)])
def test_the_card_prints_on_its_pages(
    office_desk: Page, server: Server, structure: int, rating: int, step: int, pages: int
) -> None:
    page = office_desk
    look_at(page, f"{server.url}/structures/{structure}/ratings/{rating}/card?step={step}")
    printed = page.pdf(prefer_css_page_size=True)
    assert len(A_PAGE.findall(printed)) == pages
