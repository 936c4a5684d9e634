"""The review queue in a real browser: fifty items by keyboard alone, several at once, undo, Back.

Only what the page offers and says is used: its keys stand in its line of keys.
"""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import CLERK, CLERK_PASSWORD, OFFICE, Server, sign_in, watch
from tests.browser.test_pages import faults

FEWEST = 50


@pytest.fixture
def office(browser: Browser, server: Server) -> Iterator[Page]:
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    sign_in(page, server.url, CLERK, CLERK_PASSWORD)
    yield page
    context.close()


def total(page: Page) -> int:
    """Return how many items the page says it lists."""
    words = page.locator(".above h2").text_content() or ""
    found = re.search(r"of ([\d,]+) items?", words)
    assert found, words
    return int(found[1])


def said(page: Page, left: int) -> None:
    """Wait for what the page tells a reader who does not see it."""
    words = f"{left} item{'' if left == 1 else 's'} left."
    expect(page.locator("[data-said]")).to_contain_text(words)


def stands_on(page: Page) -> str:
    """Return the mark of the item that has the focus and is marked as the one stood on."""
    here = page.locator("[data-item][aria-current=true]")
    expect(here).to_be_focused()
    return here.get_attribute("data-item") or ""


def offered(page: Page) -> bool:
    return page.locator("[aria-current=true] .tags").text_content() == "layer offered"


def test_fifty_items_by_keyboard(office: Page, server: Server) -> None:
    complaints = watch(office)
    office.goto(f"{server.url}/review")
    keys = office.locator("#keys").text_content() or ""
    for words in ("j next", "k previous", "a accept", "r return", "c comment", "u undo"):
        assert words in re.sub(r"\s+", " ", keys)
    at_first = left = total(office)
    assert left > FEWEST
    office.keyboard.press("j")
    done = 0
    while done < FEWEST:
        before = stands_on(office)
        if done % 10 == 4:  # several: two below each other, with one reason
            office.keyboard.press("x")
            office.keyboard.press("j")
            office.keyboard.press("x")
            expect(office.locator("[data-about]")).to_have_text("For the 2 selected.")
            office.keyboard.press("r")
            expect(office.locator("[name=text]")).to_be_focused()
            office.keyboard.type("jar and a look")  # letters of keys: they are words here
            office.keyboard.press("Enter")
            number = 2
        elif offered(office):  # a correction would put others right: one, returned with a word
            office.keyboard.press("r")
            office.keyboard.type("ask the crew")
            office.keyboard.press("Enter")
            number = 1
        else:
            office.keyboard.press("a")
            number = 1
        expect(office.locator(f"#i-{before}")).to_have_count(0)
        done, left = done + number, left - number
        said(office, left)
        assert stands_on(office) != before
        height = office.evaluate("document.documentElement.scrollHeight")
        assert height <= 3 * OFFICE["height"]
    assert total(office) == left == at_first - done
    with server.client() as client:
        rows = client.get("/review.json?state=all").json()["rows"]
    answered = [row for row in rows if row["last_by"] == CLERK]
    assert len({row["key"] for row in answered}) == done
    office.keyboard.press("u")
    expect(office.locator("[data-words]")).to_contain_text("Took back the answer")
    said(office, left + 1)
    assert complaints == []


def test_sixteen_alike_with_one_reason_and_back(office: Page, server: Server) -> None:
    office.goto(f"{server.url}/review?kind=drowned")
    many = total(office)
    assert many > 10
    office.keyboard.press("j")
    office.keyboard.press("l")
    assert office.locator("[data-item] input:checked").count() == many
    office.keyboard.press("a")  # asks for the reason first
    office.keyboard.type("backwater of the lower gate")
    office.keyboard.press("Enter")
    expect(office.locator("[data-words]")).to_have_text(f"Accepted: {many} drowned stretches.")
    said(office, 0)
    expect(office.locator(".empty")).to_be_focused()
    office.keyboard.press("u")
    expect(office.locator("[data-words]")).to_have_text(
        f"Took back the answer: {many} drowned stretches."
    )
    assert total(office) == many


def test_where_one_stood_and_what_was_selected_comes_back(office: Page, server: Server) -> None:
    office.goto(f"{server.url}/review?kind=fault")
    for key in ("j", "j", "x", "j", "x"):
        office.keyboard.press(key)
    here = stands_on(office)
    office.keyboard.press("n")
    office.wait_for_url(re.compile("part=2"))
    expect(office.locator("nav.parts")).to_contain_text("Page 2 of 2")
    office.go_back()
    assert stands_on(office) == here
    assert office.locator("[data-item] input:checked").count() == 2
    office.keyboard.press("Enter")  # looks at it
    office.wait_for_url(re.compile(r"/record\?"))
    office.go_back()
    assert stands_on(office) == here


def test_keys_are_quiet_in_boxes_and_can_be_switched_off(office: Page, server: Server) -> None:
    office.goto(f"{server.url}/review")
    many = total(office)
    office.locator("[name=month]").focus()
    office.keyboard.press("a")
    office.locator("[name=text]").focus()
    office.keyboard.type("aaa")
    expect(office.locator("[name=text]")).to_have_value("aaa")
    switch = office.get_by_label("Use single keys")
    switch.focus()
    office.keyboard.press("Space")
    office.reload()
    expect(switch).not_to_be_checked()
    office.locator("[data-item]").first.focus()
    office.keyboard.press("a")
    office.keyboard.press("j")
    expect(office.locator("[data-item]").first).to_be_focused()
    assert total(office) == many
    for name in ("Previous", "Next", "Select alike", "Return", "Comment"):
        expect(office.get_by_role("button", name=name, exact=True)).to_be_visible()


def test_two_reviewers_and_no_fault_of_access(
    office: Page, server: Server, browser: Browser
) -> None:
    office.goto(f"{server.url}/review?kind=fault")
    context = browser.new_context(viewport=OFFICE)
    other = context.new_page()
    sign_in(other, server.url, "Steward", "keys to the gauge house")
    other.goto(f"{server.url}/review?kind=fault")
    other.keyboard.press("j")
    other.keyboard.press("r")
    other.keyboard.type("look there")
    other.keyboard.press("Enter")
    said(other, total(office) - 1)
    context.close()
    for key in ("j", "x", "j", "x", "a"):
        office.keyboard.press(key)
    office.keyboard.type("two birds")
    office.keyboard.press("Enter")
    alert = office.get_by_role("alert")
    expect(alert).to_contain_text("1 item was answered. 1 item was left as it is")
    expect(alert).to_contain_text("Steward returned it while you looked at it")
    assert faults(office) == []
    office.reload()
    assert total(office) > 0
