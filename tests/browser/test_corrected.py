"""Every kind of saved entry is corrected on the phone without signal, by what its pages offer.

From the outbox to the form, a box, the reason, Save; then the signal is back, and the office holds
the first entry as it was and lets the correction stand. Beside them entries that it had refused.
"""

import copy
import json
import sqlite3
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import Server, until, watch
from tests.browser.test_offline import ready, records, send_now, wait_states
from tests.browser.test_put_right import CASES, HELD, Case

WHY = "read once more on the sheet"
REFUSED = ("opening", "install stop", "benchmark", "photo")  # put right on the same way


def case(name: str) -> Case:
    return next(one for one in CASES if one.name == name)


def body_of(name: str, /, **more: Any) -> dict[str, Any]:
    return copy.deepcopy(case(name).body) | more


ROWS = body_of("level run")["rows"]
GOOD: dict[str, tuple[dict[str, Any], Callable[[Page], None], str, Any]] = {
    # a body that the office takes, what is put right, and where the value stands: path, value
    "reading": (
        body_of("reading", staff_m=[0.251, 0.25]),
        case("reading").mend,
        "$.staff_m[1]",
        0.252,
    ),
    "visit": (body_of("visit", note="old"), case("visit").mend, "$.note", "short"),
    "gauging, volumetric": (
        body_of("gauging, heads", heads=case("gauging, volumetric").body["heads"]),
        lambda page: page.locator("[name=time_s]").nth(4).fill("5.3"),
        "$.observed.fills[4].time_s",
        "5.3",
    ),
    "level run": (
        body_of("level run", rows=[ROWS[0], ROWS[1] | {"is": 1.3}, ROWS[2]]),
        case("level run").mend,
        "$.rows[1].is",
        1.345,
    ),
    "benchmark": (
        body_of("benchmark", name="BM8", rl_m=100.2, note="by the gate"),
        case("benchmark").mend,
        "$.rl_m",
        100.5,
    ),
    "install stop": (
        body_of(
            "install stop",
            corners=body_of("install stop")["corners"]
            | {"readings_m": {"corner_ul": 1.302, "corner_ur": 1.301}},
        ),
        case("install stop").mend,
        "$.corners.readings_m.corner_ul",
        1.3,
    ),
    "dimension check": (
        body_of(
            "dimension check",
            dimensions=[
                {
                    "key": "throat_width",
                    "label": "Throat width",
                    "measured_m": [0.306],
                    "note": "at the top",
                }
            ],
        ),
        case("dimension check").mend,
        "$.dimensions[0].measured_m[0]",
        0.3048,
    ),
    "opening": (
        body_of("opening", sensor=body_of("opening")["sensor"] | {"before_m": 0.249}),
        case("opening").mend,
        "$.sensor.before_m",
        0.251,
    ),
    "photo": (
        body_of("photo", bearing_deg=None),
        lambda page: page.locator("[name=caption]").fill("the tail, weeded"),
        "$.caption",
        "the tail, weeded",
    ),
    "logger file": (
        body_of("logger file", clock_fast_s=2.0),
        case("logger file").mend,
        "$.clock_fast_s",
        35.0,
    ),
}


@pytest.fixture
def phone(new_phone: Callable[..., BrowserContext], server: Server) -> Iterator[Page]:
    page = new_phone().new_page()
    complaints = watch(page)
    ready(page, server)
    page.set_default_timeout(6000)
    yield page
    assert complaints == []


def hold(page: Page, one: Case, body: dict[str, Any]) -> str:
    what = {"kind": one.kind, "structure": one.structure, "body": body, "bytes": one.bytes}
    found: str = page.evaluate(HELD, what)
    return found


def put_right(page: Page, server: Server, entry_id: str, words: str, one: Case) -> None:
    """By clicks from the outbox: the row's own link, the box, the reason where it is asked."""
    page.locator("#state-line").click()
    page.wait_for_url("**/field/outbox*")
    page.locator(f"[id='{entry_id}']").get_by_role("link", name=words).click()
    mend = one.mend if words == "Put it right" else GOOD[one.name][1]
    corrected = words == "Correct it"
    if one.kind == "visit":
        expect(page.locator("#change")).to_have_attribute("open", "")
    else:
        expect(page.locator("#refused, #restored")).to_be_visible()
    mend(page)
    if corrected:
        page.locator("[name=reason]:visible").fill(WHY)
    count = len(records(page))
    save = "form:visible button.main:visible, #mark-save, #dimensions form button:not([type])"
    page.locator(save).locator("visible=true").last.click()
    until(page, lambda: len(records(page)) == count + 1, f"a new record of {one.name}")
    expect(page.get_by_text("on this phone", exact=False).first).to_be_visible()


def test_every_kind_of_entry_is_put_right_without_signal(phone: Page, server: Server) -> None:
    first = {name: hold(phone, case(name), body) for name, (body, *_) in GOOD.items()}
    refused = {
        name: hold(phone, case(name), copy.deepcopy(case(name).body) | {"note": "refused"})
        if name != "photo"
        else hold(phone, case(name), copy.deepcopy(case(name).body) | {"caption": "a seep"})
        for name in REFUSED
    }
    send_now(phone, server)
    wait_states(phone, ["refused"] * len(refused) + ["stored"] * len(first))
    phone.reload()
    phone.context.set_offline(True)
    for name, entry_id in first.items():
        put_right(phone, server, entry_id, "Correct it", case(name))
    for name, entry_id in refused.items():
        put_right(phone, server, entry_id, "Put it right", case(name))
    phone.reload()
    waiting = [record for record in records(phone) if record["state"] == "waiting"]
    assert len(waiting) == len(first) + len(refused), "saved is on the phone, without signal"
    phone.context.set_offline(False)
    send_now(phone, server)
    n = len(first) + len(refused)
    wait_states(phone, ["replaced"] * len(refused) + ["stored"] * (n + len(first)))
    books = sqlite3.connect(server.folder / "data" / "sillbook.sqlite3")
    with server.client() as office:
        for name, entry_id in first.items():
            _, _, path, value = GOOD[name]
            asked = "SELECT id, json_extract(body, ?), body, observed_at FROM entry WHERE "
            [(new_id, found, new, at)] = books.execute(asked + "corrects_id = ?", (path, entry_id))
            assert (name, found) == (name, value)
            [(_, before, kept, first_at)] = books.execute(asked + "id = ?", (path, entry_id))
            assert before not in (None, value), f"{name}: the first entry is as it was"
            assert at == first_at, f"{name}: about the same time as the first"
            page = office.get(f"/entries/{new_id}").text
            assert WHY in page, name
            old, fresh = json.loads(kept), json.loads(new)
            assert {key for key in old if key not in fresh} <= {"as_typed"}, name
            assert name != "benchmark" or fresh["note"] == "by the gate"
            assert name != "dimension check" or fresh["dimensions"][0]["note"] == "at the top"
    books.close()
