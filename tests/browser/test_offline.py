"""The promise on a real phone page: nothing lost, nothing doubled, whatever goes wrong.

The server is stopped, killed, cut off or replaced for real; what the server holds is counted
behind the pages.
"""

import json
import signal
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, Playwright, Route, expect

from tests.browser.conftest import (
    CHROMIUM,
    CREW,
    CREW_PASSWORD,
    FLAGS,
    PHONE,
    Server,
    drafted,
    sent,
    sign_in,
    since,
    until,
    until_page,
    watch,
)

HEADS = ("251", "252", "250")
TAIL = "215"  # of 251 mm: drowned, within what can be corrected


def ready(page: Page, server: Server) -> None:
    """Sign in, fetch the sites, and wait until the worker keeps the pages."""
    sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
    expect(page.get_by_text("Tansy Hollow intake")).to_be_visible()
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until_page(page, "navigator.serviceWorker.controller !== null")


def open_reading(page: Page, server: Server) -> None:
    page.goto(f"{server.url}/field/reading?structure=1&occasion=during")
    expect(page.get_by_label("Staff reading 1")).to_be_visible()


def type_reading(page: Page, heads: tuple[str, ...] = HEADS, tail: str | None = TAIL) -> None:
    for number, text in enumerate(heads, 1):
        if number > 1:
            page.get_by_role("button", name="Read again").click()
        page.get_by_label(f"Staff reading {number}").fill(text)
    if tail is not None:
        page.get_by_text("read on the tail staff").click()
        page.locator("[name=tail_text]").fill(tail)


def save(page: Page) -> None:
    page.locator("#save").click()
    expect(page.locator("#saved").get_by_text("on this phone")).to_be_visible()


def take(page: Page, server: Server, heads: tuple[str, ...] = HEADS) -> None:
    open_reading(page, server)
    type_reading(page, heads)
    save(page)


def records(page: Page) -> list[dict[str, Any]]:
    """Look into the phone's own database."""
    found: list[dict[str, Any]] = page.evaluate(
        """async () => {
          const { openFieldDatabase } = await import("/static/field/keep/database.js");
          const { makeOutbox } = await import("/static/field/keep/outbox.js");
          return makeOutbox(openFieldDatabase).all();
        }"""
    )
    return found


def records_are(page: Page, count: int) -> bool:
    return len(records(page)) == count


def states(page: Page) -> list[str]:
    return sorted(record["state"] for record in records(page))


def wait_states(page: Page, wanted: list[str]) -> None:
    until(page, lambda: states(page) == wanted, f"records {wanted}")


def held(server: Server) -> list[dict[str, Any]]:
    """Return the head readings of the last two days that the server holds."""
    with server.client() as client:
        answer = client.get(f"/sites/1/readings.json?from={since(2)}")
        assert answer.status_code == 200, answer.text
        rows: list[dict[str, Any]] = answer.json()["rows"]
        return rows


def send_now(page: Page, server: Server) -> None:
    page.goto(f"{server.url}/field/outbox")
    page.get_by_role("button", name="Send now").click()


@pytest.fixture
def phone(new_phone: Callable[..., BrowserContext], server: Server) -> Iterator[Page]:
    page = new_phone().new_page()
    complaints = watch(page)
    ready(page, server)
    yield page
    assert complaints == []


def test_offline_reading_is_the_same_discharge_in_the_office_and_the_csv(
    phone: Page, server: Server
) -> None:
    before = len(held(server))
    phone.context.set_offline(True)
    phone.goto(f"{server.url}/field")
    phone.get_by_text("Tansy Hollow intake").click()
    phone.get_by_role("link", name="Read without a visit").click()
    type_reading(phone)
    output = phone.locator("#discharge")
    expect(output).to_contain_text("submerged, corrected")
    expect(output).to_contain_text("L/s")
    expect(output).to_contain_text("±")
    save(phone)
    [record] = records(phone)
    assert record["state"] == "waiting"
    shown = record["entry"]["body"]["preview"]["discharge_m3s"]
    phone.context.set_offline(False)
    wait_states(phone, ["stored"])
    rows = held(server)
    assert len(rows) == before + 1
    [row] = [r for r in rows if r["reading_id"] == record["id"]]
    assert row["discharge_m3s"] == pytest.approx(shown, rel=0.0005)
    assert row["flow"] == "submerged, corrected"
    with server.client() as client:
        text = client.get(f"/sites/1/readings.csv?from={since(2)}").text
        assert repr(row["discharge_m3s"]) in text
        history = client.get(
            f"/sites/1/readings?from={since(2)}", headers={"accept": "text/html"}
        ).text
        assert "submerged, corrected" in history


def test_server_stopped_for_real(phone: Page, server: Server) -> None:
    server.stop()
    for heads in (("201",), ("202",), ("203",)):
        take(phone, server, heads)
    phone.reload()
    assert states(phone) == ["waiting"] * 3
    send_now(phone, server)
    expect(phone.locator("#why, #state-why").first).to_be_attached()
    assert states(phone) == ["waiting"] * 3
    server.start()
    send_now(phone, server)
    wait_states(phone, ["stored"] * 3)
    ids = [r["reading_id"] for r in held(server)]
    assert len(ids) == len(set(ids))
    assert {r["id"] for r in records(phone)} <= set(ids)


def test_response_lost_after_the_commit(phone: Page, server: Server) -> None:
    lost: list[int] = []

    def commit_then_cut(route: Route) -> None:
        lost.append(route.fetch().status)
        route.abort()

    phone.route("**/sync", commit_then_cut)
    take(phone, server)
    until(phone, lambda: bool(lost), "a reply that is lost")
    sent(phone)
    assert set(lost) == {200}
    [record] = records(phone)
    assert record["state"] == "waiting"
    assert [r["reading_id"] for r in held(server)].count(record["id"]) == 1
    phone.unroute("**/sync")
    send_now(phone, server)
    wait_states(phone, ["stored"])
    assert [r["reading_id"] for r in held(server)].count(record["id"]) == 1


@pytest.mark.parametrize(
    "answer",
    [
        {"status": 500, "body": "broken"},
        {"status": 502, "body": "<html>bad gateway</html>", "content_type": "text/html"},
        {"status": 200, "body": "<html>welcome</html>", "content_type": "text/html"},
        {
            "status": 200,
            "body": '{"protocol": 1, "receipts": [',
            "content_type": "application/json",
        },
        {"status": 200, "body": '{"protocol": 1, "server_epoch": "x", "receipts": []}'},
        {"status": 200, "body": "{}", "content_type": "application/json"},
        {"status": 204, "body": ""},
    ],
    ids=["500", "502", "portal", "cut", "no receipts", "stranger", "empty"],
)
def test_an_answer_that_is_no_receipt_changes_nothing(
    phone: Page, server: Server, answer: dict[str, Any]
) -> None:
    tried: list[str] = []

    def no_receipt(route: Route) -> None:
        tried.append(route.request.url)
        route.fulfill(**answer)

    phone.route("**/sync", no_receipt)
    take(phone, server)
    until(phone, lambda: bool(tried), "an attempt to send")
    sent(phone)
    assert states(phone) == ["waiting"]
    phone.unroute("**/sync")
    send_now(phone, server)
    wait_states(phone, ["stored"])


def test_two_tabs_send_once(phone: Page, server: Server) -> None:
    phone.context.set_offline(True)
    for heads in (("211",), ("212",), ("213",), ("214",)):
        take(phone, server, heads)
    requests: list[list[str]] = []

    def count(route: Route) -> None:
        content = json.loads(route.request.post_data or "{}")
        requests.append([entry["id"] for entry in content["entries"]])
        route.continue_()

    phone.context.route("**/sync", count)
    other = phone.context.new_page()
    other.goto(f"{server.url}/field/outbox")
    phone.goto(f"{server.url}/field/outbox")
    for page in (phone, other):
        expect(page.locator("#send")).to_be_visible()
        until(page, partial(records_are, page, 4), "all four records in both tabs")
    sent(phone)
    requests.clear()  # what was tried without a network
    phone.context.set_offline(False)
    for page in (phone, other):
        page.locator("#send").dispatch_event("click")
    wait_states(phone, ["stored"] * 4)
    gone = [entry for batch in requests for entry in batch]
    assert sorted(gone) == sorted(set(gone)), "the lock lets one tab send"
    ids = [r["reading_id"] for r in held(server)]
    assert len(ids) == len(set(ids))


def test_signed_out_meanwhile_keeps_everything(phone: Page, server: Server) -> None:
    phone.context.set_offline(True)
    take(phone, server)
    phone.context.clear_cookies()
    phone.context.set_offline(False)
    send_now(phone, server)
    expect(phone.get_by_role("link", name="Sign in").first).to_be_visible()
    assert states(phone) == ["waiting"]
    sign_in(phone, server.url, CREW, CREW_PASSWORD, "/field/outbox")
    wait_states(phone, ["stored"])


def test_one_bad_record_among_many(phone: Page, server: Server) -> None:
    phone.context.set_offline(True)
    for heads in (("221",), ("222",), ("223",)):
        take(phone, server, heads)
    # A record from an older release that this server will not take:
    phone.evaluate(
        """async () => {
          const { openFieldDatabase } = await import("/static/field/keep/database.js");
          const { makeOutbox } = await import("/static/field/keep/outbox.js");
          const outbox = makeOutbox(openFieldDatabase);
          const [first] = await outbox.all();
          const id = first.id.slice(0, -4) + "beef";
          await outbox.hold({ ...first.entry, id, body: { ...first.entry.body, staff_m: [] } });
        }"""
    )
    phone.context.set_offline(False)
    send_now(phone, server)
    wait_states(phone, ["refused", "stored", "stored", "stored"])
    phone.goto(f"{server.url}/field/outbox")
    expect(phone.get_by_text("needs a look").first).to_be_visible()
    expect(phone.get_by_text("Not accepted").first).to_be_visible()
    with phone.expect_download() as download:
        phone.get_by_role("button", name="Save all to a file").click()
    content = json.loads(Path(download.value.path()).read_text())
    assert content["sillbook_outbox"] == 1
    assert len(content["entries"]) == 1


def test_old_page_over_a_new_release(phone: Page, server: Server) -> None:
    open_reading(phone, server)
    type_reading(phone)
    server.stop()
    server.start(SILLBOOK_TEST_RELEASE="next")
    phone.evaluate("navigator.serviceWorker.getRegistration().then((r) => r.update())")
    # The half-filled form stays; the old page works against the new server.
    expect(phone.get_by_label("Staff reading 1")).to_have_value(HEADS[0])
    save(phone)
    wait_states(phone, ["stored"])
    phone.goto(f"{server.url}/field")
    button = phone.locator("#notices button").first
    expect(button).to_be_visible()
    with phone.expect_navigation():
        button.click()
    names = phone.evaluate("caches.keys()")
    assert names == [f"sillbook-shell-{'next'.rjust(16, '0')}"]
    assert states(phone) == ["stored"]


def test_draft_survives_reload(phone: Page, server: Server) -> None:
    phone.context.set_offline(True)
    open_reading(phone, server)
    type_reading(phone, ("231",), "200")
    drafted(phone, "200")
    phone.reload()
    expect(phone.get_by_label("Staff reading 1")).to_have_value("231")
    expect(phone.locator("[name=tail_text]")).to_have_value("200")
    save(phone)
    assert states(phone) == ["waiting"]


def test_a_reading_without_its_sums_is_said_not_saved_and_comes_back(
    new_phone: Callable[..., BrowserContext], server: Server
) -> None:
    """Without a worker the signal can go between the boxes and what their figures mean."""
    page = new_phone(service_workers="block").new_page()
    sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
    expect(page.get_by_role("link", name="Tansy Hollow")).to_be_visible()
    page.route("**/reading/understand.js", lambda route: route.abort())
    open_reading(page, server)
    page.get_by_label("Staff reading 1").fill("231")
    drafted(page, "231")
    page.locator("#save").click()
    expect(page.locator("#problem")).to_contain_text("NOT saved")
    assert records(page) == []
    page.unroute("**/reading/understand.js")
    page.reload()
    expect(page.get_by_label("Staff reading 1")).to_have_value("231")
    page.locator("#save").click()
    expect(page.locator("#saved")).to_be_visible()
    assert [record["entry"]["body"]["entered"]["text"] for record in records(page)] == [["231"]]


def test_metres_typed_as_millimetres_are_asked_about(phone: Page, server: Server) -> None:
    open_reading(phone, server)
    for unit in ("cm", "m"):
        phone.get_by_role("button", name=f"Type in {unit}", exact=True).click()
    phone.get_by_label("Staff reading 1").fill("251")
    expect(phone.get_by_role("button", name="251 mm?")).to_be_visible()
    phone.locator("#save").click()
    expect(phone.locator("#problem")).to_be_visible()
    assert records(phone) == []
    phone.get_by_role("button", name="251 mm?").click()
    save(phone)
    [record] = records(phone)
    assert record["entry"]["body"]["staff_m"] == [0.251]


def test_decimal_comma_is_a_point(phone: Page, server: Server) -> None:
    open_reading(phone, server)
    for unit in ("cm", "m"):
        phone.get_by_role("button", name=f"Type in {unit}", exact=True).click()
    phone.get_by_label("Staff reading 1").fill("0,251")
    save(phone)
    [record] = records(phone)
    assert record["entry"]["body"]["staff_m"] == [0.251]
    assert record["entry"]["body"]["entered"]["text"] == ["0,251"]


def test_browser_killed_after_on_this_phone(
    playwright: Playwright, server: Server, tmp_path: Path
) -> None:
    profile = tmp_path / "profile"

    def launch() -> BrowserContext:
        return playwright.chromium.launch_persistent_context(
            str(profile), executable_path=CHROMIUM, args=FLAGS, viewport=PHONE
        )

    context = launch()
    page = context.new_page()
    ready(page, server)
    context.set_offline(True)
    take(page, server)
    kill_browser(profile)
    server.stop(signal.SIGKILL)
    context = launch()
    try:
        page = context.new_page()
        page.goto(f"{server.url}/field/outbox")  # from the worker: no server is there
        assert states(page) == ["waiting"]
        server.start()
        # The kill also took the cookie, which Chromium writes to disk later: sign in again.
        sign_in(page, server.url, CREW, CREW_PASSWORD, "/field/outbox")
        send_now(page, server)
        wait_states(page, ["stored"])
        [record] = records(page)
        assert [r["reading_id"] for r in held(server)].count(record["id"]) == 1
    finally:
        context.close()


def kill_browser(profile: Path) -> None:
    """Kill, by pid, every process of the browser that uses this profile."""
    import os

    for entry in Path("/proc").iterdir():
        if not entry.name.isdigit():
            continue
        try:
            words = (entry / "cmdline").read_bytes()
            if b"chrom" in words and str(profile).encode() in words:
                os.kill(int(entry.name), signal.SIGKILL)
        except (OSError, ProcessLookupError):
            continue
