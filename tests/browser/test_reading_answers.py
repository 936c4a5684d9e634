"""Answers about figures of a reading, and a form that is touched before its script is there.

Common practice; what is kept is looked at on the phone and behind the office's pages.
"""

from collections.abc import Callable

import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

from tests.browser.conftest import CREW, CREW_PASSWORD, Server, drafted, sign_in
from tests.browser.test_offline import ready, records, save, states, wait_states

ADDRESS = "/field/reading?structure=1&occasion=during"


@pytest.fixture
def phone(new_phone: Callable[..., BrowserContext], server: Server) -> Page:
    """Give a phone with the sites on it."""
    page = new_phone().new_page()
    ready(page, server)
    return page


def test_a_low_tailwater_is_not_asked_about_and_the_answer_to_a_slip_goes_along(
    phone: Page, server: Server
) -> None:
    phone.goto(server.url + ADDRESS)
    phone.get_by_label("Staff reading 1").fill("25.1")
    phone.locator(".dock").get_by_role("button", name="251 mm?").tap()
    phone.locator("[name=tail_text]").fill("12")
    expect(phone.locator("#discharge")).to_contain_text("free")
    expect(phone.locator("#dock-ask")).to_be_empty()
    save(phone)
    wait_states(phone, ["stored"])
    body = records(phone)[0]["entry"]["body"]
    assert body["staff_m"] == [0.251]
    assert body["tailwater"] == {"state": "read", "staff_m": 0.012, "text": "12"}
    assert body["asked"] == [{"figure": "staff", "typed": "25.1", "unit": "mm", "answer": "251"}]
    assert "as_typed" not in body, "another figure was meant"


def test_what_the_office_would_refuse_is_not_called_saved(phone: Page, server: Server) -> None:
    phone.context.set_offline(True)
    phone.goto(server.url + ADDRESS)
    phone.get_by_label("Staff reading 1").fill("251")
    for name, wrong, right, words in (
        ("sensor_text", "-90000", "250", "Logger"),
        ("gate", "0026-11-25T09:00", "2026-11-25T09:00", "1990"),
    ):
        phone.locator(f"[name={name}]").fill(wrong)
        phone.locator("#save").tap()
        expect(phone.locator("#problem")).to_contain_text(words)
        assert states(phone) == []
        phone.locator(f"[name={name}]").fill(right)
    save(phone)
    phone.context.set_offline(False)
    wait_states(phone, ["stored"])


def test_what_is_ticked_and_typed_before_the_script_is_kept(
    new_phone: Callable[..., BrowserContext], server: Server
) -> None:
    page = new_phone(service_workers="block").new_page()
    sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
    expect(page.get_by_role("link", name="Tansy Hollow")).to_be_visible()
    waiting: list[Route] = []

    def hold(route: Route) -> None:
        waiting.append(route)

    page.route("**/reading/page.js", hold)
    page.goto(server.url + ADDRESS, wait_until="commit")
    page.get_by_text("weed", exact=True).tap()
    page.locator("[name=note]").fill("before the script")
    assert waiting, "the script is still on its way"
    waiting[0].continue_()
    page.get_by_label("Staff reading 1").fill("251")
    drafted(page, "before the script")
    save(page)
    body = records(page)[0]["entry"]["body"]
    assert (body["conditions"], body["note"]) == (["weed"], "before the script")


def test_a_question_does_not_stand_in_the_way_of_save_and_is_not_lost(
    phone: Page, server: Server
) -> None:
    phone.context.set_offline(True)
    phone.goto(server.url + ADDRESS)
    phone.get_by_label("Staff reading 1").fill("25.1")
    expect(phone.locator("#dock-ask")).to_contain_text("25.1 mm is not usual here")
    save(phone)
    expect(phone.locator("#saved")).to_contain_text("Not confirmed: 25.1 mm")
    [record] = records(phone)
    assert record["entry"]["body"]["staff_m"] == [0.0251]
    assert [one["answer"] for one in record["entry"]["body"]["asked"]] == ["not answered"]
    phone.get_by_role("link", name="Look at it again").tap()
    expect(phone.locator("#dock-ask")).to_contain_text("25.1 mm is not usual here")
    phone.locator(".dock").get_by_role("button", name="251 mm?").tap()
    phone.locator("[name=reason]").fill("a slip of ten")
    save(phone)
    phone.context.set_offline(False)
    wait_states(phone, ["stored", "stored"])
    assert records(phone)[1]["entry"]["body"]["staff_m"] == [0.251]
