"""Planning, as-built, levels and commissioning in a real browser, at a desk and on a phone."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import (
    CLERK,
    CLERK_PASSWORD,
    CREW,
    CREW_PASSWORD,
    Server,
    sign_in,
    until_page,
    watch,
)

AXE = (Path(__file__).parent / "vendor" / "axe-core-4.14.1" / "axe.min.js").read_text("utf-8")
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
PAGES = (
    "/sites/3/plans", "/plans/1", "/sites/3/plans/new?like=1", "/structures/1/as-built",
    "/structures/3/as-built", "/structures/3/install", "/structures/2/commissioning",
    "/sites/1/levels",
)  # fmt: skip


def violations(page: Page) -> list[Any]:
    page.evaluate(AXE)
    found: list[Any] = page.evaluate(
        "rules => axe.run(document, {runOnly: rules}).then(r => r.violations.map("
        "v => [v.id, v.nodes.map(n => n.target)]))",
        RULES,
    )
    return found


@pytest.mark.parametrize("width", [1280, 390])
def test_pages_are_accessible_and_keep_the_policy(
    desk: Page, office_server: Server, width: int
) -> None:
    complaints = watch(desk)
    desk.set_viewport_size({"width": width, "height": 844})
    sign_in(desk, office_server.url, CLERK, CLERK_PASSWORD, "/sites")
    for path in PAGES:
        answer = desk.goto(office_server.url + path)
        assert answer is not None
        assert answer.status == 200, path
        assert violations(desk) == [], path
        assert desk.evaluate("document.documentElement.scrollWidth") <= width, path
    assert complaints == []


def test_a_plan_is_worked_out_and_chosen(desk: Page, server: Server) -> None:
    sign_in(desk, server.url, CLERK, CLERK_PASSWORD, "/sites/3/plans/new?like=1")
    desk.get_by_label("Name of the plan").fill("Low crest")
    desk.get_by_label("Crest to judge").fill("48,95")
    desk.get_by_role("button", name="Work it out").click()
    expect(desk.get_by_role("heading", name="Low crest")).to_be_visible()
    expect(desk.get_by_text("drowns").first).to_be_visible()
    card = desk.locator("#candidate-1").locator("xpath=ancestor::section")
    expect(card.get_by_role("img", name="Long section")).to_be_visible()
    card.get_by_text("Choose this as the intended design").click()
    card.get_by_label("Structure", exact=True).select_option(label="New flume")
    card.get_by_label("Why this one").fill("for the test")
    card.get_by_role("button", name="Choose").click()
    expect(desk.get_by_role("heading", name="As built: New flume")).to_be_visible()
    expect(desk.get_by_text("intended design of plan 2")).to_be_visible()


def test_the_worked_run_is_seen_and_its_zero_accepted(desk: Page, server: Server) -> None:
    sign_in(desk, server.url, CLERK, CLERK_PASSWORD, "/sites/1/levels")
    desk.locator("tbody a").first.click()
    expect(desk.get_by_text("Crest 99.2235 m")).to_be_visible()
    expect(desk.get_by_text("+1.0 mm, within 1.58 mm")).to_be_visible()
    desk.get_by_role("button", name="Decline").click()
    expect(desk.get_by_role("alert")).to_contain_text("needs a reason")
    desk.get_by_role("button", name="Accept as gauge zero").click()
    desk.wait_for_url("**/rate-again")
    desk.goto(f"{server.url}/structures/1/gauge-zeros")
    expect(desk.get_by_text("99.2235 m").first).to_be_visible()


def test_the_sheet_prints_on_one_page(desk: Page, office_server: Server) -> None:
    sign_in(desk, office_server.url, CLERK, CLERK_PASSWORD, "/structures/2/commissioning")
    expect(desk.get_by_text("This is no certificate")).to_be_visible()
    expect(desk.get_by_text("clear seep").first).to_be_visible()
    pdf = desk.pdf(format="A4", margin={"top": "12mm", "bottom": "12mm"})
    assert pdf.count(b"/Type /Page\n") + pdf.count(b"/Type /Page ") == 1


def test_a_plan_on_the_phone_without_coverage(
    new_phone: Callable[..., BrowserContext], server: Server
) -> None:
    phone = new_phone()
    page = phone.new_page()
    complaints = watch(page)
    sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
    expect(page.get_by_text("Upper Gorsegate")).to_be_visible()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until_page(page, "navigator.serviceWorker.controller !== null")
    phone.set_offline(True)
    page.goto(f"{server.url}/field/plan?site=3")
    page.get_by_text("Winter race").click()
    expect(page.get_by_role("img", name="Long section").first).to_be_visible()
    page.get_by_label("Weed margin, mm").fill("150")
    again = page.get_by_role("region", name="With these figures")
    expect(again.get_by_text("needed").first).to_be_visible()
    page.get_by_label("Middle, L/s").fill("many")
    expect(page.get_by_role("alert")).to_contain_text("Middle flow: type a number.")
    page.get_by_label("Middle, L/s").fill("40,5")
    assert violations(page) == []
    page.get_by_role("button", name="Ask the office").click()
    expect(page.get_by_text("Saved, on this phone")).to_be_visible()
    expect(page.locator("#state-line")).to_contain_text("1 on this phone")
    phone.set_offline(False)
    page.goto(f"{server.url}/field/outbox")
    expect(page.get_by_text("plan worked out")).to_be_visible(timeout=15_000)
    with server.client() as office:
        plans = office.get("/sites/3/plans.json").json()["rows"]
    assert {row["name"] for row in plans} == {
        "Winter race, crest low",
        "Winter race, crest low, again",
    }
    assert any(row["discharge_m3s"] == 0.0405 for row in plans)
    assert complaints == []
