"""Today and the map by keyboard: search, Back, and a line that opens what it counts."""

from playwright.sync_api import Browser

from tests.browser.conftest import CLERK, CLERK_PASSWORD, OFFICE, Server, sign_in, watch


def test_search_by_keyboard_keeps_its_state_in_the_address(
    browser: Browser, office_server: Server
) -> None:
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    sign_in(page, office_server.url, CLERK, CLERK_PASSWORD, "/today")
    complaints = watch(page)
    page.goto(office_server.url + "/today")
    page.get_by_role("searchbox", name="Find").focus()
    page.keyboard.type("tansy")
    page.keyboard.press("Enter")
    page.get_by_text("1 to 1 of 1 site", exact=False).wait_for()
    assert "find=tansy" in page.url
    assert page.evaluate("document.activeElement.id") == "of-find", "focus stays in the box"
    page.go_back()
    page.get_by_text("1 to 3 of 3 sites", exact=False).wait_for()
    assert page.get_by_role("heading", name="What needs a person").is_visible()
    page.go_forward()
    page.get_by_text("1 to 1 of 1 site", exact=False).wait_for()
    assert page.get_by_role("searchbox", name="Find").input_value() == "tansy"
    page.reload()
    page.get_by_text("1 to 1 of 1 site", exact=False).wait_for()
    assert complaints == []
    context.close()


def test_the_list_beside_the_map_is_reached_by_tab(browser: Browser, office_server: Server) -> None:
    context = browser.new_context(viewport=OFFICE)
    page = context.new_page()
    sign_in(page, office_server.url, CLERK, CLERK_PASSWORD, "/map")
    page.goto(office_server.url + "/map")
    page.get_by_label("From").focus()
    reached = []
    for _ in range(8):
        page.keyboard.press("Tab")
        reached.append(page.evaluate("document.activeElement.getAttribute('href')"))
    assert {"/sites/1/flow", "/sites/2/flow", "/sites/3/flow"} <= set(reached), reached
    context.close()
