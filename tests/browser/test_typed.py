"""Figures that can be two things, and heads that no staff shows, as a person meets them."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import (
    CLERK,
    CLERK_PASSWORD,
    Server,
    sign_in,
    watch,
)
from tests.browser.test_people_on_a_phone import open_reading, states
from tests.browser.test_people_on_a_phone import phone as phone

FLUME = "1"


def test_a_limit_of_two_meanings_is_asked_and_kept_as_answered(desk: Page, server: Server) -> None:
    sign_in(desk, server.url, CLERK, CLERK_PASSWORD)
    complaints = watch(desk)
    desk.goto(f"{server.url}/structures/{FLUME}/takes")
    desk.locator("details").evaluate_all("(all) => all.forEach((one) => (one.open = true))")
    form = desk.locator("form", has=desk.get_by_label("First day"))
    form.locator("[name=kind]").select_option("season")
    form.locator("[name=amount]").fill("6,000")
    form.locator("[name=valid_from]").fill("2026-07-01")
    form.get_by_role("button").click()
    choices = desk.locator('[name="read:amount"]')
    expect(choices).to_have_count(2)
    expect(desk.locator("[name=valid_from]").last).to_have_value("2026-07-01")  # all else is kept
    desk.locator('[name="read:amount"][value="6000"]').check()
    desk.locator("form", has=choices).get_by_role("button").click()
    rows = desk.request.get(f"{server.url}/structures/{FLUME}/take-limits.json").json()["rows"]
    kept = [row["amount"] for row in rows]
    assert 6000.0 in kept
    assert 6.0 not in kept
    assert complaints == []


@pytest.mark.parametrize(("typed", "offered"), [("-9000", None), ("25.1", "251 mm")])
def test_a_head_no_staff_shows_is_asked_once_beside_save(
    phone: Page, server: Server, typed: str, offered: str | None
) -> None:
    open_reading(phone, server)
    phone.context.set_offline(True)
    box = phone.locator("input[inputmode=decimal]").first
    box.fill(typed)
    as_typed = phone.get_by_role("button", name=re.compile("as typed"))
    expect(as_typed.first).to_be_in_viewport()
    if offered:
        phone.get_by_role("button", name=re.compile(offered)).first.click()
        expect(box).to_have_value(re.compile(r"^251"))
    else:
        as_typed.first.click()
    expect(phone.get_by_role("button", name=re.compile("as typed"))).to_have_count(0)
    phone.get_by_role("button", name="Save").click()
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    assert states(phone) == ["waiting"]


def test_a_new_sites_offset_is_proposed_and_stays_editable(desk: Page, server: Server) -> None:
    browser = desk.context.browser
    assert browser is not None
    context = browser.new_context(timezone_id="America/St_Johns")  # 30 min off the hour, summer too
    page = context.new_page()
    try:
        sign_in(page, server.url, CLERK, CLERK_PASSWORD)
        complaints = watch(page)
        page.goto(f"{server.url}/sites/new")
        box = page.get_by_label(re.compile("offset from UTC"))
        expect(box).to_have_value("-03:30")
        expect(page.locator("#utc_offset-hint")).to_contain_text("Proposed")
        box.fill("+05:45")
        expect(page.locator("#utc_offset-hint")).to_contain_text("without daylight saving")
        page.get_by_label(re.compile("^Name")).fill("Invented")
        page.get_by_label(re.compile("^Code")).fill("bad code!")
        page.get_by_role("button", name="Save site").click()
        expect(box).to_have_value("+05:45")  # what was typed comes back, nothing is proposed again
        assert complaints == []
    finally:
        context.close()
