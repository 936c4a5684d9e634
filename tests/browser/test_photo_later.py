"""A picture from the gallery, captioned later; the nearest site, asked for by a tap only."""

import base64
import io
from collections.abc import Callable
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, FilePayload, Page, expect

from tests.browser.conftest import Server, watch
from tests.browser.test_offline import ready, records, wait_states
from tests.browser.test_put_right import PIXEL

Phone = Callable[..., BrowserContext]


def photos(page: Page) -> list[dict[str, Any]]:
    return [one["entry"] for one in records(page) if one["entry"]["kind"] == "photo"]


def test_a_picture_of_the_gallery_is_captioned_later(server: Server, new_phone: Phone) -> None:
    page = new_phone().new_page()
    complaints = watch(page)
    ready(page, server)
    page.context.set_offline(True)
    page.goto(f"{server.url}/field/install?structure=1&stop=S2")
    taken = page.locator("input[type=file]:not([capture])")
    taken.set_input_files(
        [FilePayload(name="a.jpg", mimeType="image/jpeg", buffer=base64.b64decode(PIXEL))]
    )
    page.get_by_role("link", name="Say what it shows").click()
    expect(page.locator("#picture img")).to_be_visible()
    page.get_by_label("Caption").fill("packers under the left wall")
    page.get_by_role("button", name="Save the photo").click()
    expect(page.locator("#saved").get_by_text("on this phone")).to_be_visible()
    first, later = photos(page)
    assert first["body"]["time_from"] == "chosen", "the picture names no time"
    assert (later["corrects"], later["reason"]) == (first["id"], "said later")
    assert later["body"] == first["body"] | {"caption": "packers under the left wall"}
    page.goto(f"{server.url}/field/outbox")
    row = page.locator(f"[id='{later['id']}']")
    expect(row).to_contain_text("is still on this phone; it goes after all entries")
    expect(page.locator(f"[id='{first['id']}']")).to_contain_text("the later entry counts")
    page.context.set_offline(False)
    page.get_by_role("button", name="Send now").click()
    wait_states(page, ["stored", "stored"])
    expect(row).to_contain_text("is at the office")
    with server.client() as office:
        assert "packers under the left wall" in office.get("/sites/1/photos").text
    assert complaints == []


def test_a_picture_of_the_gallery_brings_its_time_and_leaves_its_place(
    server: Server, new_phone: Phone
) -> None:
    """The time as Pillow writes it by the Exif standard; in site time, which is 12 h from UTC."""
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2026:08:14 06:30:00"
    exif.get_ifd(0x8825).update({1: "S", 2: (43.0, 30.0, 0.0)})
    made = io.BytesIO()
    Image.new("RGB", (64, 48)).save(made, "JPEG", exif=exif)
    page = new_phone().new_page()
    ready(page, server)
    page.goto(f"{server.url}/field/install?structure=1&stop=S2")
    page.locator("input[type=file]:not([capture])").set_input_files(
        [FilePayload(name="a.jpg", mimeType="image/jpeg", buffer=made.getvalue())]
    )
    expect(page.get_by_text("06:30, time from the picture")).to_be_visible()
    wait_states(page, ["stored"])
    [photo] = photos(page)
    assert photo["observed_at"] == "2026-08-13T18:30:00.000Z"
    kept = bytes.fromhex(
        page.evaluate(
            """async () => {
              const { openFieldDatabase } = await import("/static/field/keep/database.js");
              const [row] = await (await openFieldDatabase()).getAll("photos");
              const two = (byte) => byte.toString(16).padStart(2, "0");
              return [...new Uint8Array(row.bytes)].map(two).join("");
            }"""
        )
    )
    assert b"Exif" not in kept, "position and camera stay on the phone"
    with server.client() as office:
        assert "time from the picture" in office.get("/sites/1/photos").text


@pytest.mark.parametrize("allowed", [True, False])
def test_the_nearest_site_is_told_after_a_tap(
    server: Server, new_phone: Phone, allowed: bool
) -> None:
    place = {"latitude": -43.5, "longitude": 171.9}
    options = {"geolocation": place, "permissions": ["geolocation"]} if allowed else {}
    page = new_phone(**options).new_page()
    ready(page, server)
    expect(page.get_by_text("away")).to_have_count(0)
    page.get_by_role("button", name="Nearest first").click()
    if allowed:
        expect(page.locator("#nearest")).to_contain_text("km away")
    else:
        expect(page.get_by_role("button", name="does not say where it is")).to_be_visible()
        expect(page.locator("#nearest")).to_be_empty()
