"""One phone, more than one person: sign-out holds without signal, forms belong to who typed."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, Route, expect

from tests.browser.conftest import (
    CLERK,
    CLERK_PASSWORD,
    CREW,
    CREW_PASSWORD,
    Server,
    drafted,
    sign_in,
    watch,
)
from tests.browser.test_offline import (
    open_reading,
    ready,
    records,
    states,
    type_reading,
    wait_states,
)

OUTBOX = "/field/outbox"


@pytest.fixture
def phone(new_phone: Callable[..., BrowserContext], server: Server) -> Iterator[Page]:
    page = new_phone().new_page()
    complaints = watch(page)
    ready(page, server)
    yield page
    assert complaints == []


def sign_out(page: Page, server: Server) -> None:
    page.goto(server.url + OUTBOX)
    page.get_by_role("button", name="Sign out").click()


def closed(page: Page) -> None:
    expect(page.get_by_role("heading", name="Signed out")).to_be_visible()
    expect(page.get_by_text("Tansy Hollow")).to_have_count(0)


def kept(page: Page, key: str) -> Any:
    return page.evaluate(
        """async (key) => {
          const { openFieldDatabase } = await import("/static/field/keep/database.js");
          return (await (await openFieldDatabase()).get("kept", key)) ?? null;
        }""",
        key,
    )


def save_reading(page: Page, server: Server, text: str) -> None:
    open_reading(page, server)
    type_reading(page, (text,), None)
    page.locator("#save").click()
    expect(page.locator("#saved").get_by_text("on this phone")).to_be_visible()


def test_signing_out_without_signal_holds_at_once_and_ends_at_the_next_contact(
    phone: Page, server: Server, tmp_path: Path
) -> None:
    phone.context.set_offline(True)
    save_reading(phone, server, "241")
    other = phone.context.new_page()
    other.goto(f"{server.url}/field/site?id=1")
    expect(other.get_by_role("link", name="Check gauging").first).to_be_visible()
    sign_out(phone, server)
    closed(phone)
    closed(other)
    expect(phone.get_by_text("the office has not heard of it", exact=False)).to_be_visible()
    expect(phone.get_by_text("Signing in needs the office", exact=False)).to_be_visible()
    phone.screenshot(path=str(tmp_path / "signed-out.png"), full_page=True)
    for path in ("/field", "/field/site?id=1", "/field/reading?structure=1", "/field/visit?site=1"):
        other.goto(server.url + path)
        closed(other)
    assert states(phone) == ["waiting"], "the outbox is not touched"
    assert kept(phone, "pack")["sites"], "the sites stay until another person's replace them"
    with phone.expect_download() as download:
        phone.get_by_role("button", name="Save all to a file").click()
    assert len(json.loads(Path(download.value.path()).read_text())["entries"]) == 1
    # Back online nobody is let in without a password, and the session is ended at the office.
    asked: list[str] = []
    phone.context.on("request", lambda request: asked.append(request.url.removeprefix(server.url)))
    phone.context.set_offline(False)
    phone.goto(f"{server.url}/")
    expect(phone.get_by_label("Password")).to_be_visible()
    heard = [path for path in asked if path.startswith(("/sign-out", "/sync", "/pack"))]
    assert heard[0].startswith("/sign-out?of="), "the sign-out goes before anything else"
    assert not any(path.startswith("/sync") for path in asked)
    other.goto(f"{server.url}/field")
    closed(other)
    assert states(other) == ["waiting"]
    # The same person with their password: everything is there, and is sent.
    sign_in(phone, server.url, CREW, CREW_PASSWORD, "/field")
    expect(phone.get_by_text("Tansy Hollow intake")).to_be_visible()
    wait_states(phone, ["stored"])
    expect(other.get_by_text("Tansy Hollow intake")).to_be_visible()


def test_contact_alone_ends_the_session_on_a_page_that_stands_open(
    phone: Page, server: Server
) -> None:
    phone.context.set_offline(True)
    sign_out(phone, server)
    closed(phone)
    phone.context.set_offline(False)
    expect(phone.get_by_text("and the office knows", exact=False)).to_be_visible()
    assert kept(phone, "signed_out")["pending"] is False
    assert phone.evaluate("fetch('/pack').then((answer) => answer.status)") == 401


def test_a_server_that_is_away_for_long_changes_nothing(phone: Page, server: Server) -> None:
    phone.context.set_offline(True)
    save_reading(phone, server, "242")
    phone.route("**/sync", lambda route: route.abort())  # before the network is back
    phone.context.set_offline(False)
    server.stop()
    sign_out(phone, server)
    closed(phone)
    for _ in range(3):
        phone.reload()
        closed(phone)
    phone.goto(f"{server.url}/review")  # the office is away: its pages are not shown either
    closed(phone)
    assert kept(phone, "signed_out")["pending"] is True
    server.start()
    phone.goto(f"{server.url}/review")
    expect(phone.get_by_label("Password")).to_be_visible()
    phone.goto(f"{server.url}/field")
    closed(phone)
    assert states(phone) == ["waiting"]


def test_signed_out_in_the_office_pages_closes_the_phone_too(phone: Page, server: Server) -> None:
    phone.goto(f"{server.url}/sites")
    phone.locator('form[action="/sign-out"]').evaluate("(form) => form.requestSubmit()")
    expect(phone.get_by_label("Password")).to_be_visible()
    phone.goto(f"{server.url}/field")
    closed(phone)


def test_a_late_sign_out_does_not_end_who_signed_in_since(phone: Page, server: Server) -> None:
    def lost(route: Route) -> None:
        route.abort()

    phone.context.route("**/sign-out*", lost)  # the sign-out never gets through
    sign_out(phone, server)
    closed(phone)
    answer = phone.context.request.post(
        f"{server.url}/sign-in", form={"name": CLERK, "password": CLERK_PASSWORD}, max_redirects=0
    )
    assert answer.status == 303
    phone.context.unroute("**/sign-out*", lost)
    phone.goto(f"{server.url}/field")
    expect(phone.locator("#who")).to_contain_text(CLERK)
    assert kept(phone, "signed_out") is None


def test_each_person_gets_their_own_half_filled_form(
    phone: Page, server: Server, tmp_path: Path
) -> None:
    open_reading(phone, server)
    type_reading(phone, ("231",), None)
    other = phone.context.new_page()
    sign_out(other, server)
    # the sign-in page, or the closed page with its way there, whichever came first
    way = other.get_by_role("link", name="Sign in")
    expect(other.get_by_label("Password").or_(way).first).to_be_visible()
    closed(phone)
    sign_in(other, server.url, CLERK, CLERK_PASSWORD, "/field")
    expect(other.locator("#who")).to_contain_text(CLERK)
    open_reading(other, server)
    expect(other.get_by_label("Staff reading 1")).to_have_value("")
    expect(other.get_by_text(f"{CREW} has a half-filled form here")).to_be_visible()
    other.screenshot(path=str(tmp_path / "two-people.png"))
    type_reading(other, ("199",), None)
    other.goto(server.url + OUTBOX)
    expect(other.get_by_text(f"kept until {CREW} signs in here")).to_be_visible()
    expect(other.locator("#drafts a")).to_have_count(1)
    other.screenshot(path=str(tmp_path / "two-people-outbox.png"), full_page=True)
    open_reading(other, server)
    expect(other.get_by_label("Staff reading 1")).to_have_value("199")
    other.locator("#save").click()
    expect(other.locator("#saved").get_by_text("on this phone")).to_be_visible()
    sign_out(other, server)
    expect(other.get_by_label("Password").or_(way).first).to_be_visible()
    sign_in(other, server.url, CREW, CREW_PASSWORD, "/field")
    expect(other.locator("#who")).to_contain_text(CREW)
    open_reading(other, server)
    expect(other.get_by_label("Staff reading 1")).to_have_value("231")
    expect(other.get_by_text("Your half-filled form is back")).to_be_visible()
    other.locator("#save").click()
    expect(other.locator("#saved").get_by_text("on this phone")).to_be_visible()
    texts = {r["entry"]["body"]["entered"]["text"][0]: r["entry"]["by"] for r in records(other)}
    assert len(set(texts.values())) == 2
    assert sorted(texts) == ["199", "231"]


def test_a_form_that_stands_open_is_not_saved_for_who_signs_in_elsewhere(
    phone: Page, server: Server
) -> None:
    phone.context.set_offline(True)  # else the page's own look at the office may put Ines back
    open_reading(phone, server)
    type_reading(phone, ("233",), None)
    # Another tab changes the person without a word to this one, as an old browser would.
    phone.evaluate(
        """async () => {
          const { openFieldDatabase } = await import("/static/field/keep/database.js");
          const { keepPack } = await import("/static/field/keep/pack.js");
          const pack = await (await openFieldDatabase()).get("kept", "pack");
          const person = { ...pack.person, id: 2, name: "Somebody" };
          await keepPack(openFieldDatabase, { ...pack, person });
        }"""
    )
    phone.locator("#save").click()
    # Save is refused, or the page saw the change first and began anew for the other person.
    refused = phone.get_by_text("Somebody is signed in on this phone now", exact=False)
    anew = phone.get_by_text("Ines has a half-filled form here", exact=False)
    expect(refused.or_(anew)).to_be_visible()
    assert records(phone) == []
    drafted(phone, "233")  # it is kept for Ines


def test_a_draft_of_the_release_before_is_offered_and_never_lost(
    phone: Page, server: Server, tmp_path: Path
) -> None:
    """The shape of a draft, a record and a photo as the release before wrote them."""
    phone.evaluate(
        """async () => {
          const { openFieldDatabase } = await import("/static/field/keep/database.js");
          const db = await openFieldDatabase();
          await db.put("drafts", {
            key: "reading:1:alone:during", href: "/field/reading?structure=1&occasion=during",
            title: "Head reading, Tansy Hollow intake", typed_at: "2026-11-20T08:00:00.000Z",
            values: { id: "01990000-0000-7000-8000-000000000001", unit: "mm", occasion: "during",
              heads: [{ text: "187", at: "2026-11-20T08:00:00.000Z" }], kept: [], tail: "not_seen",
              tail_text: "", sensor_text: "", conditions: ["weed"], gate: "", time: "",
              time_reason: "", note: "from before", reason: "" },
          });
        }"""
    )
    phone.goto(server.url + OUTBOX)
    expect(phone.get_by_text("by whom the phone did not note")).to_be_visible()
    open_reading(phone, server)
    expect(phone.get_by_label("Staff reading 1")).to_have_value("")
    phone.screenshot(path=str(tmp_path / "no-owner.png"))
    phone.get_by_role("button", name="It is mine").click()
    expect(phone.get_by_label("Staff reading 1")).to_have_value("187")
    expect(phone.locator("[name=note]")).to_have_value("from before")
    expect(phone.get_by_text("Your half-filled form is back")).to_be_visible()
    phone.locator("#save").click()
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    [record] = records(phone)
    assert record["id"] == "01990000-0000-7000-8000-000000000001"
