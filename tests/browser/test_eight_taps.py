"""A reading under one thumb: from the list of sites to "on this phone" in at most eight taps.

A tap is a touch on anything the page offers, or on the pad's own key for what comes next; the
digits of a figure are typing. The aim of eight is the project's own (common practice).
"""

import io
import re
from collections.abc import Callable

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Locator, Page, expect

from tests.browser.conftest import Server, watch
from tests.browser.test_offline import ready, records

MOST_TAPS = 8


@pytest.fixture
def phone(new_phone: Callable[..., BrowserContext], server: Server) -> Page:
    """Give a phone with the sites on it."""
    page = new_phone().new_page()
    ready(page, server)
    return page


class Thumb:
    """Counts what a thumb does."""

    def __init__(self, page: Page) -> None:
        self.page, self.taps = page, 0

    def tap(self, on: Locator) -> None:
        expect(on).to_be_visible()
        self.taps += 1
        on.tap()

    def next_key(self) -> None:
        self.taps += 1
        self.page.keyboard.press("Enter")

    def digits(self, text: str) -> None:
        self.page.keyboard.type(text)


def in_the_pad(page: Page) -> str:
    """Return the name of the box that the number pad writes into."""
    name: str = page.evaluate(
        "document.activeElement.inputMode === 'decimal'"
        " ? document.activeElement.ariaLabel || document.activeElement.name : ''"
    )
    return name


def test_three_repeats_tailwater_and_a_condition(phone: Page, server: Server) -> None:
    complaints = watch(phone)
    phone.context.set_offline(True)
    phone.goto(f"{server.url}/field")
    thumb = Thumb(phone)
    thumb.tap(phone.get_by_role("link", name="Tansy Hollow intake"))
    thumb.tap(phone.get_by_role("link", name="Read without a visit").first)
    expect(phone.get_by_label("Staff reading 1")).to_be_focused()
    thumb.tap(phone.get_by_label("Staff reading 1"))  # a phone may want it for its pad
    thumb.digits("251")
    thumb.next_key()
    assert in_the_pad(phone) == "Staff reading 2", "the pad stays up"
    thumb.digits("252")
    thumb.next_key()
    assert in_the_pad(phone) == "Staff reading 3"
    thumb.digits("250")
    thumb.tap(phone.locator("[name=tail_text]"))
    thumb.digits("215")
    thumb.tap(phone.get_by_text("weed", exact=True))
    expect(phone.locator("#discharge")).to_contain_text("submerged, corrected")
    thumb.tap(phone.locator("#save"))
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    assert thumb.taps <= MOST_TAPS, thumb.taps
    body = records(phone)[0]["entry"]["body"]
    assert body["staff_m"] == [0.251, 0.252, 0.25]
    assert body["tailwater"] == {"state": "read", "staff_m": 0.215, "text": "215"}
    assert body["conditions"] == ["weed"]
    assert not complaints, complaints


def test_the_next_key_of_an_empty_repeat_leads_to_the_tail_staff(
    phone: Page, server: Server
) -> None:
    phone.goto(f"{server.url}/field/reading?structure=1&occasion=during")
    phone.get_by_label("Staff reading 1").fill("251")
    phone.keyboard.press("Enter")
    phone.keyboard.press("Enter")
    expect(phone.locator("[name=tail_text]")).to_be_focused()
    phone.locator("#save").tap()
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    assert records(phone)[0]["entry"]["body"]["staff_m"] == [0.251], "an empty repeat is none"


def test_a_decimal_slip_is_asked_once_beside_save(phone: Page, server: Server) -> None:
    phone.goto(f"{server.url}/field/reading?structure=1&occasion=during")
    dock = phone.locator(".dock")
    phone.get_by_label("Staff reading 1").fill("25.1")
    expect(
        dock.get_by_text("Staff reading: 25.1 mm is not usual here", exact=False)
    ).to_be_visible()
    dock.get_by_role("button", name="251 mm?").tap()
    expect(phone.get_by_label("Staff reading 1")).to_have_value("251")
    expect(phone.locator("#dock-ask")).to_be_empty()
    phone.get_by_label("Staff reading 1").fill("2510")
    dock.get_by_role("button", name="2510 mm, as typed").tap()
    expect(phone.locator("#dock-ask")).to_be_empty()
    phone.reload()
    expect(phone.get_by_label("Staff reading 1")).to_have_value("2510")
    expect(phone.locator("#discharge .words").first).to_be_visible()
    expect(phone.locator("#dock-ask")).to_be_empty()
    phone.locator("#save").tap()
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    assert records(phone)[0]["entry"]["body"]["as_typed"] == ["2510"]


def test_centimetres_are_remembered_and_the_gate_opens_now(phone: Page, server: Server) -> None:
    address = f"{server.url}/field/reading?structure=1&occasion=during"
    phone.goto(address)
    phone.get_by_role("button", name="Type in cm").tap()
    phone.get_by_label("Staff reading 1").fill("25,1")
    phone.get_by_role("button", name="Gate opened now").tap()
    expect(phone.locator("[name=gate]")).not_to_have_value("")
    expect(phone.locator("#over-crest")).to_contain_text("cm")
    phone.locator("#save").tap()
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    body = records(phone)[0]["entry"]["body"]
    assert body["staff_m"] == [0.251]
    assert body["entered"] == {"unit": "cm", "text": ["25,1"]}
    assert body["gate_opened_at"]
    phone.goto(address)
    expect(phone.get_by_role("button", name="Type in m", exact=True)).to_be_visible()
    with server.client() as office:
        expect(phone.locator("#state-line")).to_contain_text("All at the office")
        rows = office.get("/sites/1/readings.json").json()["rows"]
        assert rows[-1]["staff_mean_m"] == 0.251


def test_the_count_runs_over_page_changes(phone: Page, server: Server) -> None:
    address = "/field/reading?structure=1&occasion=during"
    phone.goto(server.url + address)
    phone.get_by_label("Staff reading 1").fill("251")
    phone.get_by_role("button", name=re.compile("Count down 1 min")).tap()
    expect(
        phone.locator("#countdown").get_by_text(re.compile("Read again in [01]:"))
    ).to_be_visible()
    phone.context.set_offline(True)
    phone.goto(f"{server.url}/field")
    expect(phone.locator("#countdown").get_by_text(re.compile("Read again in 0:"))).to_be_visible()
    expect(phone.get_by_role("button", name="Sound off")).to_be_visible()
    phone.evaluate(
        """() => {
          const held = JSON.parse(localStorage.getItem("sillbook-countdown"));
          const past = { ...held, until: Date.now() - 130000 };
          localStorage.setItem("sillbook-countdown", JSON.stringify(past));
        }"""
    )
    phone.reload()
    expect(phone.get_by_role("alert").get_by_text("due 2 minutes ago", exact=False)).to_be_visible()
    phone.get_by_role("link", name="To the reading").tap()
    expect(phone.get_by_label("Staff reading 1")).to_have_value("251")
    phone.get_by_role("button", name="Stop").tap()
    expect(phone.locator("#countdown")).to_have_count(0)


def test_a_photo_belongs_to_its_reading(phone: Page, server: Server) -> None:
    phone.goto(f"{server.url}/field/reading?structure=1&occasion=during")
    phone.get_by_label("Staff reading 1").fill("251")
    phone.get_by_text("Photo of this reading").tap()
    box = phone.locator("#photos")
    box.get_by_label("Caption").fill("Staff at the intake")
    picture = Image.new("RGB", (64, 48), "white")
    held = io.BytesIO()
    picture.save(held, "PNG")
    file = {"name": "staff.png", "mimeType": "image/png", "buffer": held.getvalue()}
    box.locator("input[type=file]").first.set_input_files(file)  # type: ignore[arg-type]
    expect(box.get_by_role("img", name="Staff at the intake")).to_be_visible()
    phone.locator("#save").tap()
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    kept = {one["entry"]["kind"]: one["entry"] for one in records(phone)}
    assert kept["photo"]["body"]["of"] == kept["head_reading"]["id"]
    expect(phone.locator("#state-line")).to_contain_text("All at the office")
    with server.client() as office:
        page = office.get(f"/readings/{kept['head_reading']['id']}").text
    assert "Staff at the intake" in page
