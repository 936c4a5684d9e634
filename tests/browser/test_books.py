"""A season of an old book, as a person brings it in: pasted, put right, stored, rated, undone."""

from datetime import date, timedelta

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import CLERK, CLERK_PASSWORD, OFFICE, PHONE, Server, sign_in, watch
from tests.browser.test_pages import faults, overflow

FIRST = date(2025, 10, 2)
STRUCTURE = "1"


def season() -> str:
    """Return sixty mornings as a spreadsheet copies them, one with its decimal sign slipped."""
    lines = ["Date\tTime\tStaff (mm)\tRead by\tPage"]
    for k in range(60):
        staff = 2100 if k == 30 else 205 + k % 9
        lines.append(f"{FIRST + timedelta(days=k)}\t7:30\t{staff}\tOld Petra\t{1 + k // 30}")
    return "\n".join(lines)


@pytest.fixture
def office(desk: Page, server: Server) -> Page:
    sign_in(desk, server.url, CLERK, CLERK_PASSWORD)
    return desk


def test_sixty_readings_of_a_book_are_stored_rated_and_taken_back(
    office: Page, server: Server
) -> None:
    complaints = watch(office)
    office.context.grant_permissions(["clipboard-read", "clipboard-write"], origin=server.url)
    office.goto(f"{server.url}/sites/1/readings")
    office.get_by_role("link", name="Bring in old readings").click()
    office.get_by_label("Name of the book").fill("Tin trunk, book 2 (invented)")
    office.evaluate("text => navigator.clipboard.writeText(text)", season())
    office.get_by_label("Day, row 1", exact=True).focus()
    office.keyboard.press("Control+V")
    summary = office.locator("[data-summary]")
    expect(summary).to_contain_text("59 ready, 1 with a question")
    row = office.locator("[data-row='31']")
    expect(row).to_contain_text("is it 210 mm")
    expect(office.locator("[data-row='1'] [data-discharge]")).to_contain_text("L/s")
    assert faults(office) == []

    # the keyboard goes from row to row, and the slip is typed right
    office.get_by_label("Staff, row 30", exact=True).focus()
    office.keyboard.press("ArrowDown")
    office.keyboard.type("210")
    office.keyboard.press("Enter")
    expect(office.get_by_label("Staff, row 32", exact=True)).to_be_focused()
    expect(summary).to_contain_text("60 ready")

    office.get_by_role("button", name="Take in what is ready").click()
    expect(summary).to_contain_text("60 stored")
    office.get_by_role("link", name="Look at the batch").click()
    expect(office.get_by_role("heading", name="Tin trunk, book 2 (invented)")).to_be_visible()
    expect(office.get_by_role("row").filter(has_text="L/s")).to_have_count(60)
    assert faults(office) == []
    office.set_viewport_size(PHONE)
    assert overflow(office) <= 0
    office.set_viewport_size(OFFICE)

    office.get_by_label("Reason").fill("It was the book of another race")
    office.get_by_role("button", name="Take back 60 readings").click()
    expect(office.get_by_text("This batch was taken back")).to_be_visible()
    expect(office.get_by_text("does not stand")).to_have_count(60)
    office.get_by_role("link", name="Take the sheet in again").click()
    expect(office.get_by_role("row").filter(has_text="Tin trunk")).to_contain_text("taken back")
    assert complaints == []
