"""Rating again at a desk: from the banner of the record to the answer, with progress, and axe."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import CLERK, CLERK_PASSWORD, OFFICE, PHONE, Server, sign_in, watch
from tests.browser.test_pages import faults, overflow


@pytest.fixture
def office_desk(browser: Browser, server: Server) -> Iterator[Page]:
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    complaints = watch(page)
    sign_in(page, server.url, CLERK, CLERK_PASSWORD)
    yield page
    assert complaints == []
    context.close()


def looked_at(page: Page) -> None:
    page.wait_for_load_state("networkidle")
    assert faults(page) == []
    page.set_viewport_size(PHONE)
    assert overflow(page) <= 0, "wider than a phone"
    page.set_viewport_size(OFFICE)


def test_from_the_banner_to_the_answer(office_desk: Page, server: Server) -> None:
    page = office_desk
    form = {"family": "parshall", "dim.size": "1ft", "dim.W_built": "0.31"}
    form |= {"valid_from": "2026-01-01T00:00", "reason": "throat measured (invented)"}
    stored = page.request.post(
        f"{server.url}/structures/1/ratings", form=form, headers={"origin": server.url}
    )
    assert stored.status == 200, stored.text()
    for name in ("record", "daily", "takes"):
        page.goto(f"{server.url}/structures/1/{name}")
        banner = page.get_by_role("complementary", name="Out of date")
        expect(banner.get_by_role("link", name="Rate again: see what changes")).to_be_visible()
        looked_at(page)
    page.get_by_role("link", name="Rate again: see what changes").click()
    page.wait_for_url("**/sites/1/rate-again")
    expect(page.get_by_role("heading", name="Head readings")).to_be_visible()
    expect(page.get_by_role("heading", name="Long record of Flume at the intake")).to_be_visible()
    looked_at(page)
    page.get_by_label("Reason").fill("throat measured (invented)")
    page.get_by_role("button", name="Rate again").click()
    heading = page.get_by_role("heading", name="before and after")
    expect(heading).to_be_visible(timeout=60_000)
    expect(heading).to_be_focused()
    looked_at(page)
    page.goto(f"{server.url}/sites/1")
    expect(page.get_by_role("link", name="Rate again: see what changes")).to_have_count(0)
