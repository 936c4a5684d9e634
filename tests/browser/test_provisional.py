"""A zero levelled on the phone rates its readings at once, provisionally; the office agrees.

The level run is booked without signal; the reading after it is shown by its zero; with the signal
the office sets that zero and rates the reading by it (the discharge of both is compared).
"""

import copy
from collections.abc import Callable, Iterator

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import Server, watch
from tests.browser.test_offline import held, ready, records, send_now, wait_states
from tests.browser.test_put_right import CASES, HELD

RUN = next(one.body for one in CASES if one.name == "level run")


@pytest.fixture
def phone(new_phone: Callable[..., BrowserContext], server: Server) -> Iterator[Page]:
    page = new_phone().new_page()
    complaints = watch(page)
    ready(page, server)
    page.set_default_timeout(6000)
    yield page
    assert complaints == []


def hold_run(page: Page) -> None:
    """A closed run: crest 99.900 m, and the staff reads 0.250 m at a mark of 100.145 m."""
    first, corner, last = copy.deepcopy(RUN["rows"])
    mark = corner | {"point": "staff mark", "role": "staff_mark", "is": 1.055}
    body = RUN | {
        "rows": [first, corner | {"is": 1.3}, mark, last],
        "staff_mark_m": 0.25,
        "set_zero": {"from": "$NOW", "reason": ""},
        "preview": {"crest_rl_m": 99.9, "zero_rl_m": 99.895},
    }
    page.evaluate(HELD, {"kind": "level_run", "structure": 1, "body": body, "bytes": ""})


def test_a_zero_just_levelled_rates_the_next_reading(phone: Page, server: Server) -> None:
    phone.context.set_offline(True)
    hold_run(phone)
    phone.goto(f"{server.url}/field/reading?structure=1&occasion=during")
    phone.get_by_label("Staff reading 1").fill("251")
    said = phone.locator("#discharge")
    expect(said).to_contain_text("provisional, by the zero levelled here at")
    expect(said).to_contain_text("not yet at the office")
    expect(phone.locator("#over-crest")).to_contain_text("246 mm")  # 251 mm − 5 mm
    phone.locator("#save").click()
    expect(phone.locator("#saved").get_by_text("on this phone")).to_be_visible()
    [shown] = [r["entry"] for r in records(phone) if r["entry"]["kind"] == "head_reading"]
    assert "provisional zero" in shown["body"]["preview"]["flags"]
    phone.goto(f"{server.url}/field/site?id=1")
    expect(phone.get_by_text("Staff zero 5.0 mm below the crest")).to_contain_text("provisional")
    phone.context.set_offline(False)
    send_now(phone, server)
    wait_states(phone, ["stored", "stored"])
    [row] = [one for one in held(server) if one["reading_id"] == shown["id"]]
    assert row["discharge_m3s"] == pytest.approx(shown["body"]["preview"]["discharge_m3s"], 3e-4)
    phone.goto(f"{server.url}/field/site?id=1")
    expect(phone.get_by_text("Staff zero 5.0 mm below the crest")).not_to_contain_text(
        "provisional"
    )
