"""The long record from a fresh demo, as people would show it to somebody.

A year of 15-minute data comes offline from the phone and another file in the office; corrections
are offered and accepted; daily flows, the season against its limit, a month approved, exports.
"""

import csv
import hashlib
import io
import re
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import httpx
import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import (
    CLERK,
    CLERK_PASSWORD,
    CREW,
    CREW_PASSWORD,
    OFFICE,
    PHONE,
    Server,
    sign_in,
    until_page,
    watch,
)
from tests.browser.test_pages import faults, overflow

TANSY, MARROW = "1", "2"
YEAR_ROWS = 34_584  # 360 days and a quarter, every quarter of an hour


def files_of(client: httpx.Client, site: str) -> list[tuple[str, str, str]]:
    """Return (import id, name, sha256) of the files taken in at a site, oldest first."""
    page = client.get(f"/sites/{site}/loggers", headers={"accept": "text/html"}).text
    ids = re.findall(r"/imports/(\d+)/undo", page)
    kept = re.findall(r'href="/kept/([0-9a-f]{64})" download="([^"]+)"', page)
    return [(one, name, sha) for one, (sha, name) in zip(ids, kept, strict=True)][::-1]


def take_back_first_year(client: httpx.Client, folder: Path) -> Path:
    """Take the first two half-years of the first site back; return them as one file.

    Approved months rest on them, so those are opened again with a reason first.
    """
    first, second = files_of(client, TANSY)[:2]
    months = client.get("/structures/1/months", headers={"accept": "text/html"}).text
    for month, revision in re.findall(
        r'months/(\d{4}-\d\d)"\s+class="stack">\s*<input[^>]*\sname="revision"\s+value="(\d+)">',
        months,
    ):
        form = {"to": "draft", "revision": revision, "reason": "shown from the start"}
        assert client.post(f"/structures/1/months/{month}", data=form).status_code == 303
    parts = [client.get(f"/kept/{sha}").content for _, _, sha in (first, second)]
    for one, _, _ in (first, second):
        form = {"reason": "shown from the start"}
        undone = client.post(f"/sites/{TANSY}/loggers/imports/{one}/undo", data=form)
        assert undone.status_code == 303, undone.text
    lines = parts[1].splitlines(keepends=True)
    begin = next(k for k, line in enumerate(lines) if re.match(rb"\D*\d+\D\d+\D\d+", line) and k)
    rows = [k for k, line in enumerate(lines) if re.match(rb'"?\d', line)]
    path = folder / "tansy-year.txt"
    path.write_bytes(parts[0] + b"".join(lines[min(rows, default=begin) :]))
    return path


def check_size_and_axe(page: Page) -> None:
    """Check the page as it stands: no fault of access, and no wider than a phone."""
    assert faults(page) == []
    page.set_viewport_size(PHONE)
    assert overflow(page) <= 0
    page.set_viewport_size(OFFICE)


@pytest.fixture
def office(desk: Page, server: Server) -> Page:
    sign_in(desk, server.url, CLERK, CLERK_PASSWORD)
    return desk


def bring_by_phone(
    context: BrowserContext, server: Server, path: Path, complaints: list[str]
) -> None:
    """Pick the file without signal, see it kept, and see it leave when the signal is back."""
    phone = context.new_page()
    complaints += watch(phone)
    sign_in(phone, server.url, CREW, CREW_PASSWORD, "/field")
    expect(phone.get_by_text("Tansy Hollow intake")).to_be_visible()
    phone.evaluate("navigator.serviceWorker.ready.then(() => true)")
    until_page(phone, "navigator.serviceWorker.controller !== null")
    context.set_offline(True)
    phone.goto(f"{server.url}/field/site?id=1")
    phone.get_by_role("link", name="Logger file").first.click()
    expect(phone.get_by_role("button", name="Keep this file")).to_be_visible()
    phone.locator("#file").set_input_files(path)
    expect(phone.locator("#picked")).to_contain_text("tansy-year.txt")
    phone.get_by_label("Note").fill("a whole year")
    phone.get_by_role("button", name="Keep this file").click()
    expect(phone.locator("#kept").get_by_text("on this phone")).to_be_visible()
    phone.reload()  # still there without signal
    expect(phone.locator("#kept").get_by_text("tansy-year.txt")).to_be_visible()
    context.set_offline(False)
    phone.goto(f"{server.url}/field/outbox")
    phone.get_by_role("button", name="Send now").click()
    expect(phone.locator("#state-line")).to_have_text("All at the office", timeout=30_000)


def test_a_year_from_the_phone_to_an_approved_month(
    office: Page,
    server: Server,
    new_phone: Callable[..., BrowserContext],
    tmp_path: Path,
) -> None:
    complaints = watch(office)
    with server.client() as client:
        year = take_back_first_year(client, tmp_path)
    bring_by_phone(new_phone(), server, year, complaints)

    # in the office: a look, then import with progress
    office.goto(f"{server.url}/sites/{TANSY}/loggers")
    waiting = office.get_by_role("region", name="Files waiting for a look")
    row = waiting.get_by_role("row").filter(has_text="tansy-year.txt")
    expect(row).to_contain_text("Ines, from the phone")
    expect(row).to_contain_text("a whole year")
    row.get_by_role("link", name="Look").click()
    expect(office.locator(".sentence")).to_contain_text(f"{YEAR_ROWS:,} rows, every 15 min")
    check_size_and_axe(office)
    office.get_by_role("button", name=f"Import {YEAR_ROWS:,} rows").click()
    expect(office.get_by_role("heading", name="Imported")).to_be_focused(timeout=60_000)
    expect(office.locator("#progress")).to_contain_text(f"{2 * YEAR_ROWS:,} new readings")
    with server.client() as client:
        sent = hashlib.sha256(year.read_bytes()).hexdigest()
        assert client.get(f"/kept/{sent}").content == year.read_bytes()

    # layers are offered with their shape; look, accept
    office.goto(f"{server.url}/structures/1/layers")
    offers = office.get_by_role("region", name="Layers offered")
    count = offers.get_by_role("row").count()
    offers.get_by_role("row").filter(has_text="ramp").last.get_by_role(
        "button", name="Look at the ramp"
    ).click()
    preview = office.locator("#preview")
    expect(preview).to_contain_text("largest change of head")
    expect(preview.locator("canvas")).to_be_visible()
    check_size_and_axe(office)
    preview.get_by_role("button", name="Accept this layer").click()
    expect(office.get_by_role("region", name="Layers", exact=True)).to_contain_text("ramp")
    assert offers.get_by_role("row").count() == count - 1

    # daily flows, the season against its limit
    office.goto(f"{server.url}/structures/1/daily?from=2025-06-01&to=2025-06-30")
    days = office.get_by_role("region", name="Flow of each day")
    expect(days.get_by_role("rowheader")).to_have_count(30)
    expect(days).to_contain_text("±")
    office.goto(f"{server.url}/structures/1/takes")
    season = office.locator(".use").filter(has_text="Volume of a season")
    expect(season).to_contain_text("2 400 000 m³")
    expect(season.locator(".verdict")).to_have_text(re.compile("over|within|cannot tell"))
    expect(office.locator("[data-cumulative] canvas")).to_be_visible()

    # approve a month: what is open in it gets an answer first
    office.goto(f"{server.url}/structures/1/months")
    month = office.locator("tr").filter(has=office.locator("th", has_text="2025-03"))
    month.get_by_role("button", name="Mark as reviewed").click()
    expect(month.locator(".tag")).to_have_text("reviewed")
    month.get_by_role("button", name="Approve").click()
    expect(month.locator(".tag")).to_have_text("approved")
    expect(month).to_contain_text(CLERK)

    # exports
    office.goto(f"{server.url}/structures/1/daily?from=2025-03-01&to=2025-03-31")
    with office.expect_download() as download:
        office.get_by_role("link", name="Export daily.csv").click()
    days_text = Path(download.value.path()).read_text("utf-8")
    rows = list(csv.DictReader(io.StringIO(days_text)))
    assert [row["state"] for row in rows] == ["approved"] * 31
    with office.expect_download() as download:
        office.get_by_role("link", name="series.csv").first.click()
    series_text = Path(download.value.path()).read_bytes().decode()
    assert series_text.count("\r\n") > 2 * YEAR_ROWS
    assert "flow,flags,how,quality_word,state,rating_id" in series_text.split("\r\n")[0]
    assert complaints == []


def test_a_file_in_the_office_is_refused_twice_and_cancelled(
    office: Page, server: Server, tmp_path: Path
) -> None:
    with server.client() as client:
        _, name, sha = files_of(client, MARROW)[0]
        path = tmp_path / name
        path.write_bytes(client.get(f"/kept/{sha}").content)
        waiting = client.get(f"/sites/{MARROW}/loggers", headers={"accept": "text/html"}).text
        new = re.search(rf"/sites/{MARROW}/loggers/files/([0-9a-f]{{64}})", waiting)
        assert new is not None
    office.goto(f"{server.url}/sites/{MARROW}/loggers")
    office.get_by_label("Logger file, CSV or text").set_input_files(path)
    office.get_by_role("button", name="Look at the file").click()
    expect(office.locator("#understood")).to_contain_text("These very bytes are held already")
    expect(office.locator("[data-go]")).to_have_count(0)

    office.goto(f"{server.url}{new[0]}")
    held = office.request.get(f"{server.url}/structures/2/daily.csv").text()
    # the work is slowed by holding the answer back, so that a person can cancel in time
    office.route(
        "**/loggers/files/*",
        lambda route: None if route.request.method == "POST" else route.continue_(),
    )
    office.locator("[data-go]").click()
    office.get_by_role("button", name="Cancel").click()
    expect(office.get_by_role("heading", name="Cancelled")).to_be_focused()
    assert office.request.get(f"{server.url}/structures/2/daily.csv").text() == held
    office.unroute_all()
    office.locator("[data-go]").click()
    expect(office.get_by_role("heading", name="Imported")).to_be_focused(timeout=60_000)
    assert office.request.get(f"{server.url}/structures/2/daily.csv").text() != held


def test_the_chart_by_keyboard_and_buttons(office: Page, server: Server) -> None:
    complaints = watch(office)
    office.goto(f"{server.url}/structures/1/record?from=2026-06-01T00:00&to=2026-06-11T00:00")
    plot = office.locator("[data-record] [data-plot]")
    expect(plot.locator("canvas")).to_be_visible()
    expect(office).to_have_url(re.compile("from=2026-06-01T00:00&to=2026-06-11T00:00"))
    plot.focus()
    office.keyboard.press("ArrowRight")
    expect(office).to_have_url(re.compile("from=2026-06-03T12:00&to=2026-06-13T12:00"))
    office.keyboard.press("+")
    expect(office).to_have_url(re.compile("from=2026-06-06T00:00&to=2026-06-11T00:00"))
    office.keyboard.press("-")
    expect(office).to_have_url(re.compile("from=2026-06-03T12:00&to=2026-06-13T12:00"))
    office.get_by_role("button", name="Later").click()
    expect(office).to_have_url(re.compile("from=2026-06-08T12:00"))
    office.get_by_role("button", name="Day", exact=True).click()
    expect(office.get_by_role("region", name="Readings of the view")).to_contain_text("±")
    expect(office.locator("[data-peak]")).to_contain_text("±")
    office.get_by_role("button", name="All", exact=True).click()
    expect(office.locator("[data-bands]")).to_contain_text("gap: ")
    expect(office.locator("[data-bands]")).to_contain_text("approved: ")
    box = plot.bounding_box()
    assert box is not None
    office.mouse.move(box["x"] + 400, box["y"] + 200)
    expect(office.locator("[data-readout]").first).to_contain_text("±")
    for kind in ("PNG", "SVG"):
        with office.expect_download() as download:
            office.get_by_role("button", name=f"Save as {kind}").first.click()
        content = Path(download.value.path()).read_bytes()
        assert content.startswith(b"\x89PNG" if kind == "PNG" else b"<svg")
        assert len(content) > 20_000
        if kind == "SVG":  # opens on its own, with its title
            assert ElementTree.fromstring(content)[0].text == (
                "Tansy Hollow intake: Flume at the intake, discharge"
            )
    assert complaints == []


def test_back_shows_the_view_before(office: Page, server: Server) -> None:
    """Every view is in the address and in the history; a key held down is one step of it."""
    office.goto(f"{server.url}/structures/2/record")
    office.wait_for_url(re.compile(r"from="))
    whole = office.url
    office.get_by_role("button", name="Month", exact=True).click()
    office.wait_for_url(lambda url: url != whole)
    month = office.url
    office.locator("[name=what]").select_option("head")
    office.wait_for_url(re.compile(r"what=head"))
    office.go_back()
    office.wait_for_url(month)
    expect(office.locator("[name=what]")).to_have_value("discharge")
    office.go_back()
    office.wait_for_url(whole)
    begin = re.search(r"from=([^&]+)", whole)
    assert begin
    expect(office.locator("[name=from]").first).to_have_value(begin[1])
    office.go_forward()
    office.wait_for_url(month)
    office.locator("[data-record] [data-plot]").focus()
    for _ in range(6):  # a key held down
        office.keyboard.down("ArrowLeft")
    office.keyboard.up("ArrowLeft")
    office.wait_for_url(lambda url: url not in (whole, month))
    settled = office.locator("[data-record] [data-plot]")
    expect(settled).not_to_have_attribute("aria-busy", "true")
    office.go_back()
    office.wait_for_url(month)
    office.get_by_role("link", name="The same view as a table").click()
    assert office.url == f"{month}#beside"
