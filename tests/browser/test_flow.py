"""The flow history as a person uses it: found from Today, a mark picked, at sites of every kind."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.conftest import (
    CLERK,
    CLERK_PASSWORD,
    OFFICE,
    PHONE,
    Server,
    sign_in,
    watch,
)
from tests.browser.test_pages import faults, overflow


@pytest.fixture
def office(browser: Browser, office_server: Server) -> Iterator[Page]:
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    sign_in(page, office_server.url, CLERK, CLERK_PASSWORD, "/today")
    complaints = watch(page)
    yield page
    assert complaints == []
    context.close()


def drawn(page: Page) -> Locator:
    """Wait until the chart and what is said beside it are there; return the plot."""
    plot = page.locator("[data-record] [data-plot]")
    expect(plot.locator("canvas")).to_be_visible()
    expect(plot).not_to_have_attribute("aria-busy", "true")
    return plot


def test_who_approved_september_at_the_lateral_and_by_which_rating(
    office: Page, office_server: Server
) -> None:
    """From Today, by what the pages offer, in at most four clicks."""
    office.goto(f"{office_server.url}/today")
    office.get_by_role("main").get_by_role("link", name="Marrowfen lateral").click()
    drawn(office)
    months = office.get_by_role("region", name="Months of the view").get_by_role("listitem")
    september = months.filter(has_text=re.compile(r"-09\s+approved"))
    september.get_by_role("link", name=re.compile("-09$")).click()  # the second click
    drawn(office)
    expect(months).to_have_count(1)
    expect(months).to_contain_text(re.compile(r"-09\s+approved by " + CLERK))
    rating = months.get_by_role("link", name=re.compile(r"^rating \d+$"))
    expect(rating).to_have_count(1)
    expect(office.get_by_role("heading", level=1)).to_contain_text("Long-throated flume")
    version = re.sub(r"\D", "", rating.inner_text())
    rating.click()
    assert f"/ratings/{version}/card" in office.url


def test_a_mark_is_picked_by_mouse_and_by_keyboard(office: Page, office_server: Server) -> None:
    office.goto(f"{office_server.url}/structures/1/record")
    plot = drawn(office)
    view = office.url
    place = office.evaluate(
        """async () => {
          const answer = await fetch("/structures/1/record/chart.json").then((r) => r.json());
          const box = document.querySelector("[data-record] .u-over").getBoundingClientRect();
          const flows = answer.marks.filter((one) => one.kind === "check gauging");
          const one = flows.reduce((a, b) => (a.discharge_m3s > b.discharge_m3s ? a : b));
          const share = (one.from_s - answer.from_s) / (answer.to_s - answer.from_s);
          const x = box.left + share * box.width;
          return { href: one.href, x, top: box.top, high: box.height };
        }"""
    )
    # down the line of its time until the chart says that a click opens something
    y = place["top"] + 2
    while y < place["top"] + place["high"]:
        office.mouse.move(place["x"], y)
        said = office.locator("[data-readout]").first.inner_text()
        if "check gauging" in said and "click to open" in said:
            break
        y += 6
    expect(plot).to_have_class(re.compile("opens"))
    office.mouse.click(place["x"], y)
    office.wait_for_url(re.compile(re.escape(place["href"])))
    office.go_back()
    drawn(office)
    assert office.url == view
    rows = office.get_by_role("region", name="Marks of the view")
    first = rows.get_by_role("link").first
    rows.focus()
    office.keyboard.press("Tab")
    expect(first).to_be_focused()
    target = first.get_attribute("href")
    assert target
    office.keyboard.press("Enter")
    office.wait_for_url(re.compile(re.escape(target)))


def test_a_strip_without_a_page_of_its_own_leads_to_its_stretch(
    office: Page, office_server: Server
) -> None:
    office.goto(f"{office_server.url}/structures/2/record")
    drawn(office)
    box = office.locator("[data-record] .u-over").first.bounding_box()
    assert box
    office.mouse.click(box["x"] + 6, box["y"] - 5 * 18 + 4)  # the state of the first month
    office.wait_for_url(re.compile(r"from=2024-12-0"))
    drawn(office)
    expect(office.locator("[data-part=sum]")).to_contain_text("approved by")


@pytest.mark.parametrize("path", ["/sites/1/flow", "/sites/2/flow", "/sites/3/flow"])
def test_the_page_is_open_to_everybody_at_any_width(
    office: Page, office_server: Server, path: str
) -> None:
    office.goto(office_server.url + path)
    office.wait_for_load_state("networkidle")
    assert faults(office) == []
    for width in (1024, PHONE["width"]):
        office.set_viewport_size({"width": width, "height": 800})
        assert overflow(office) <= 0, width
