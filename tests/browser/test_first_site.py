"""The first site on an empty database: every step is offered by the page before it.

The script only clicks what a page offers and types into its boxes; it never goes to an address.
"""

import signal
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from app.commands.context import open_session
from app.services.sites import accounts
from app.settings import Settings
from tests.browser.conftest import Server, sign_in, watch
from tests.browser.test_pages import faults

NAME, PASSWORD = "Orla", "first day at the weir"


@pytest.fixture
def empty_server(tmp_path: Path) -> Iterator[Server]:
    """Give a server whose database holds one steward and nothing else."""
    with open_session(Settings.for_folder(tmp_path / "data"), make=True) as session:
        accounts.add_person(session, NAME, "steward", PASSWORD, None)
        session.commit()
    server = Server(tmp_path)
    server.start()
    try:
        yield server
    finally:
        server.stop(signal.SIGKILL)


def test_the_first_site_is_made_by_clicking_what_is_offered(
    desk: Page, empty_server: Server
) -> None:
    complaints = watch(desk)
    sign_in(desk, empty_server.url, NAME, PASSWORD)
    began = time.monotonic()

    # the first page says what to do first and offers it
    expect(desk.get_by_role("heading", name="Nothing here yet: what to do first")).to_be_visible()
    desk.get_by_role("link", name="Make the first site").click()
    desk.get_by_label("Name").fill("Harrier Bend (invented)")
    desk.get_by_label("Code").fill("HARRIER")
    desk.get_by_label("Site time, offset from UTC").fill("+12:00")
    desk.get_by_label("Hazards").fill("Deep pool below the fall. No coverage.")
    desk.get_by_role("button", name="Save site").click()

    # the site says that a structure comes first, in its head and in the page
    now = desk.locator(".state-now")
    expect(now).to_contain_text("No structure yet")
    assert faults(desk) == []
    now.get_by_role("link", name="Add the structure").click()
    desk.wait_for_load_state("networkidle")
    desk.get_by_label("Kind of structure").select_option(label="Parshall flume")
    desk.get_by_label("Size").first.select_option(index=4)
    desk.get_by_label("Name").fill("Main flume")
    desk.get_by_label("From, site time").fill("2024-07-01T09:00")
    desk.get_by_role("button", name="Save structure").click()

    # a structure without levels asks for its gauge zero
    expect(now).to_contain_text("No gauge zero in force")
    now.get_by_role("link", name="Enter its gauge zero").click()
    desk.get_by_label("crest", exact=False).first.fill("10.000")
    desk.get_by_label("gauge zero", exact=False).first.fill("10.000")
    desk.get_by_label("From, site time").fill("2024-07-01T09:00")
    desk.get_by_label("Reason").fill("first level run")
    desk.get_by_role("button", name="Save gauge zero and see what changes").click()

    # then the first reading
    expect(now).to_contain_text("No reading yet")
    now.get_by_role("link", name="Take the first reading").click()
    expect(desk.get_by_text("Main flume").first).to_be_visible()
    desk.get_by_label("Staff", exact=False).first.fill("210")
    desk.get_by_role("button", name="Save").first.click()
    expect(desk.locator("#state-line")).to_have_text("All at the office", timeout=30_000)

    # and back by the links of the field pages to the office, where it stands
    desk.get_by_role("link", name="Back to Harrier Bend").click()
    desk.get_by_role("link", name="Sites").click()
    desk.get_by_role("link", name="Office pages").click()
    desk.get_by_role("link", name="Harrier Bend (invented)").first.click()
    expect(now).to_contain_text("staff reading")
    expect(now).to_contain_text("L/s ±")
    expect(now).not_to_contain_text("No ")
    assert time.monotonic() - began < 300
    assert complaints == []
