"""A visit from its cautions to its end, and the instrument of the register, on the phone."""

import os
from collections.abc import Callable
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Page, expect

from tests.browser.conftest import CREW, CREW_PASSWORD, OFFICE, PHONE, Server, sign_in, watch

ENTRIES = """async (kind) => {
  const { openFieldDatabase } = await import("/static/field/keep/database.js");
  const { makeOutbox } = await import("/static/field/keep/outbox.js");
  const all = await makeOutbox(openFieldDatabase).all();
  return all.map(({ entry }) => entry).filter((entry) => entry.kind === kind);
}"""


def picture(page: Page, name: str) -> None:
    """Keep a picture where somebody asked for one, to look at."""
    if folder := os.environ.get("SILLBOOK_PICTURES"):
        page.screenshot(path=f"{folder}/{name}.png", full_page=True)


def newest(page: Page, kind: str) -> dict[str, Any]:
    found: list[dict[str, Any]] = page.evaluate(ENTRIES, kind)
    return max(found, key=lambda entry: entry["id"])


def test_a_visit_is_ended_and_a_later_change_keeps_how_it_ended(
    server: Server, new_phone: Callable[..., BrowserContext]
) -> None:
    phone = new_phone().new_page()
    complaints = watch(phone)
    sign_in(phone, server.url, CREW, CREW_PASSWORD, "/field/visit?site=1")
    expect(phone.locator("#title")).not_to_have_text("Visit")  # the place is known: the form stands
    phone.wait_for_load_state("networkidle")
    expect(phone.get_by_label("weed cut")).to_be_hidden()  # nothing is done yet
    phone.get_by_label("I have read this").check()
    phone.get_by_label("weed", exact=True).check()
    picture(phone, "visit-start")
    phone.get_by_role("button", name="Start the visit").click()
    phone.wait_for_url("**/field/visit?visit=*")
    expect(phone.get_by_text("The end of the visit is not recorded")).to_be_visible()
    phone.get_by_text("End the visit, or change").click()
    phone.get_by_label("weed cut").check()
    phone.get_by_label("repaired").check()
    phone.get_by_label("Hours").fill("1,5")
    phone.get_by_role("button", name="Ends now").click()
    picture(phone, "visit-end")
    phone.get_by_role("button", name="Save the change").click()
    expect(phone.get_by_text("Done: weed cut, repaired")).to_be_visible()
    ended = newest(phone, "visit")
    assert ended["reason"] == "end of the visit"
    assert ended["body"]["hours"] == 1.5
    assert ended["body"]["ended_at"]
    picture(phone, "visit-ended")

    phone.get_by_text("End the visit, or change").click()
    phone.get_by_label("Note").fill("the stock were out")
    phone.get_by_role("button", name="Save the change").click()
    expect(phone.get_by_role("alert")).to_contain_text("Say why")
    phone.get_by_label("Why the visit is changed").fill("forgot the stock")
    phone.get_by_role("button", name="Save the change").click()
    expect(phone.get_by_text("the stock were out").first).to_be_visible()
    changed = newest(phone, "visit")
    assert changed["id"] != ended["id"]
    for key in ("ended_at", "hours", "done", "conditions", "started_at"):
        assert changed["body"][key] == ended["body"][key], key
    assert changed["body"]["done"] == ["weed cut", "repaired"]
    assert complaints == []


def test_a_gauging_and_a_level_run_name_an_instrument_that_is_offered_again(
    server: Server, new_phone: Callable[..., BrowserContext]
) -> None:
    phone = new_phone().new_page()
    complaints = watch(phone)
    sign_in(phone, server.url, CREW, CREW_PASSWORD, "/field/gauging?structure=1")
    meter = phone.locator("[name=instrument_id]")
    phone.locator("[data-method=velocity_area]").click()
    option = meter.locator("option", has_text="Propeller meter")
    expect(option).to_contain_text("overdue")
    meter.select_option(option.get_attribute("value"))
    expect(phone.locator("#instrument-said")).to_contain_text("overdue: was due")
    meter.scroll_into_view_if_needed()
    picture(phone, "gauging-instrument")
    phone.get_by_role("button", name="Change", exact=True).click()
    phone.locator("[data-method=float]").click()
    expect(meter).to_have_value("")
    phone.get_by_role("button", name="Change", exact=True).click()
    phone.locator("[data-method=velocity_area]").click()
    expect(meter).to_have_value(option.get_attribute("value") or "none")

    phone.goto(f"{server.url}/field/levels?structure=1")
    level = phone.locator("[name=instrument_id]")
    level.select_option(level.locator("option", has_text="Automatic level").get_attribute("value"))
    expect(phone.locator("#instrument-said")).to_contain_text("in date")
    phone.get_by_label("Level of the first mark").fill("100")
    for kind, point in (("BS", "BM1"), ("FS", "BM1")):
        phone.locator(f"[name=kind][value={kind.lower()}]").check(force=True)
        if phone.get_by_label("Name of the point").is_visible():
            phone.get_by_label("Name of the point").fill(point)
        phone.get_by_label("Reading").fill("1.234")
        phone.locator("#book-it").click()
    picture(phone, "levels-instrument")
    phone.get_by_role("button", name="Save the run").click()
    expect(phone.locator("#saved")).to_be_visible()
    run = newest(phone, "level_run")
    assert str(run["body"]["instrument_id"]) == phone.evaluate(
        "localStorage.getItem('sillbook-instrument:level_run')"
    )
    assert complaints == []


def test_pictures_of_the_office(server: Server, browser: Any) -> None:
    """The pages fit their window: nothing is cut off at a desk nor on a phone."""
    for size, name in ((OFFICE, "desk"), ({"width": 390, "height": 844}, "phone")):
        context = browser.new_context(viewport=size)
        page = context.new_page()
        sign_in(page, server.url, "Rudd", "ledger lamp and kettle")
        for path in ("/today", "/map", "/equipment", "/visits", "/visits/round", "/equipment/1"):
            page.goto(server.url + path)
            picture(page, f"{name}{path.replace('/', '-')}")
            wide = page.evaluate("document.documentElement.scrollWidth")
            assert wide <= size["width"], f"{path} at {size['width']}: {wide}"
        context.close()


def test_a_tap_on_save_before_the_page_is_ready_loses_nothing(
    browser: Browser, server: Server
) -> None:
    """A form of the phone is sent by its script alone: what was typed stays in its box."""
    context = browser.new_context(viewport=PHONE, service_workers="block")
    try:
        page = context.new_page()
        sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
        page.route("**/static/field/visit/page.js*", lambda route: route.abort())
        page.goto(f"{server.url}/field/visit?site=1")
        page.evaluate("document.getElementById('form').hidden = false")
        page.locator("[name=note]").fill("weed at the crest")
        page.evaluate("document.getElementById('form').requestSubmit()")
        assert page.url == f"{server.url}/field/visit?site=1"
        expect(page.locator("[name=note]")).to_have_value("weed at the crest")
    finally:
        context.close()
