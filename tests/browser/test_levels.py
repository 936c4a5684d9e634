"""A whole level run booked on a phone without signal, and what the office makes of it.

The run is invented; its results are plain arithmetic by hand. Limit 0.003 ft times the root of
the set-ups: Kenney 2010, USGS Techniques and Methods 3-A19.
"""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, FilePayload, Page, expect

from tests.browser.conftest import CREW, CREW_PASSWORD, Server, drafted, sign_in, until_page, watch
from tests.builders.survey_entries import SIGHTS

AXE = Path(__file__).parent / "vendor" / "axe-core-4.14.1" / "axe.min.js"
WRONG, RIGHT = "1.607", "1.507"  # the foresight on TP1, misread by 0.1 m
Phone = Callable[..., BrowserContext]


def ready(context: BrowserContext, server: Server) -> Page:
    """Sign in, and wait until the pages are kept on the phone."""
    page = context.new_page()
    sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
    expect(page.get_by_role("link", name="Upper Gorsegate")).to_be_visible()
    page.evaluate("(async () => { await navigator.serviceWorker.ready })()")
    page.reload()
    until_page(page, "navigator.serviceWorker.controller !== null")
    return page


def structure_id(server: Server, code: str) -> int:
    with server.client() as office:
        sites = office.get("/pack").json()["sites"]
    return int(next(s for s in sites if s["code"] == code)["structures"][0]["id"])


def choose(page: Page, point: str, role: str) -> None:
    options = page.locator("#role option").evaluate_all("all => all.map((one) => one.value)")
    named, nameless = f"{role}|{point}", f"{role}|"
    if named in options:
        page.locator("#role").select_option(named)
    else:
        page.locator("#role").select_option(nameless)
        page.get_by_label("Name of the point").fill(point)


def book(page: Page, point: str, role: str, kind: str, text: str) -> None:
    first = page.locator(".book").count() == 0
    page.locator(f'[name=kind][value="{kind}"]').check(force=True)
    if first or kind != "bs":
        choose(page, point, role)
    if role == "staff_mark":
        page.get_by_label("The staff reads at this mark").fill("0.500")
    page.locator("[name=reading]").fill(text)
    page.locator("[name=reading]").press("Enter")
    expect(page.locator("[name=reading]")).to_have_value("")


def result(page: Page, name: str) -> str:
    return page.locator(f'#result-list dt:text("{name}") + dd').first.inner_text()


def said(page: Page) -> str:
    return page.locator("#verdict").inner_text()


def test_a_run_booked_offline_finds_its_wrong_reading_and_sets_the_zero(
    server: Server, new_phone: Phone
) -> None:
    structure = structure_id(server, "GORSE")
    context = new_phone()
    page = ready(context, server)
    complaints = watch(page)
    context.set_offline(True)
    server.stop()

    page.goto(f"{server.url}/field/levels?structure={structure}")
    expect(page.locator("#start-from")).to_contain_text("is known at")
    page.get_by_label("Level of the first mark").fill("100")
    for place, (point, role, kind, reading) in enumerate(SIGHTS):
        book(page, point, role, kind, WRONG if place == 9 else f"{reading:.3f}")
        if place == 11:  # the phone dies half-way: the book comes back
            drafted(page, f"{reading:.3f}")
            page.reload()
            expect(page.get_by_text("Your half-filled book is back")).to_be_visible()

    assert said(page) == "✗ Misclosure −99.0 mm, outside 1.58 mm"
    expect(page.locator("#sums")).to_contain_text("BM2 agrees from set-up 2 to 3")
    page.get_by_label("This run sets a new gauge zero").check()
    page.get_by_role("button", name="Save the run").click()
    expect(page.locator("#problem")).to_contain_text("over the limit 1.58 mm")

    page.get_by_role("button", name="Change FS TP1").click()
    page.locator("[name=reading]").fill(RIGHT)
    page.get_by_role("button", name="Write it anew").click()
    assert said(page) == "✓ Misclosure +1.0 mm, inside 1.58 mm"
    expect(page.locator("#sums")).to_contain_text("The three agree")
    assert result(page, "Mean crest") == "99.2235 m"
    assert result(page, "Gauge zero less crest") == "−0.5 mm"
    assert result(page, "Corner range, outside 2 mm") == "3.0 mm"
    assert result(page, "Tailwater ratio") == "0.046"
    assert page.locator(".struck").inner_text() == WRONG

    page.get_by_role("button", name="Save the run").click()
    expect(page.locator("#saved")).to_contain_text("on this phone")
    expect(page.locator("#state-line")).to_contain_text("1 on this phone, to send")
    assert complaints == []

    server.start()
    context.set_offline(False)
    expect(page.locator("#saved")).to_contain_text("at the office", timeout=40_000)
    expect(page.locator("#saved")).to_contain_text("gauge zero set, -0.5 mm from the crest")
    the_office_has_the_same(server, structure)

    page.goto(f"{server.url}/field/reading?structure={structure}")
    page.get_by_label("Staff reading 1").fill("0.251")
    expect(page.locator("#over-crest")).to_have_text("Head over the crest 0.2505 m")
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#state-line")).to_have_text("All at the office")
    with server.client() as office:
        recent = site_of(office.get("/pack").json(), structure)["recent"]
    assert recent[0]["head_m"] == pytest.approx(0.2505)


def site_of(pack: dict[str, Any], structure: int) -> dict[str, Any]:
    sites: list[dict[str, Any]] = pack["sites"]
    return next(s for s in sites if any(one["id"] == structure for one in s["structures"]))


def the_office_has_the_same(server: Server, structure: int) -> None:
    with server.client() as office:
        pack = office.get("/pack").json()
    site = site_of(pack, structure)
    [zero] = site["structures"][0]["gauge_zeros"]
    assert (zero["crest_rl_m"], zero["zero_rl_m"]) == (99.2235, 99.223)
    run = pack["survey"]["sites"][str(site["id"])]["runs"][-1]
    assert run["crest_rl_m"] == pytest.approx(99.2235, abs=1e-9)
    assert run["within_limit"] is True


def a_picture() -> bytes:
    out = io.BytesIO()
    Image.linear_gradient("L").resize((3000, 2000)).convert("RGB").save(out, "JPEG")
    return out.getvalue()


def test_an_install_stop_with_a_photo_offline_goes_to_the_office(
    server: Server, new_phone: Phone
) -> None:
    structure = structure_id(server, "GORSE")
    context = new_phone()
    page = ready(context, server)
    complaints = watch(page)
    context.set_offline(True)
    page.goto(f"{server.url}/field/install?structure={structure}")
    page.get_by_role("link", name="S2").click()
    figures = {
        "reference": "BM1", "reference_rl_m": "100", "backsight_m": "1.342", "corner_ul": "2.118",
        "corner_ur": "2.119", "corner_dl": "2.117", "corner_dr": "2.122",
    }  # fmt: skip
    for name, text in figures.items():
        page.locator(f"[name={name}]").fill(text)
    expect(page.locator("#word")).to_contain_text("corners out of level by 5.0 mm")
    page.get_by_label("Caption").fill("Corner packed too low")
    picture: FilePayload = {"name": "p.jpg", "mimeType": "image/jpeg", "buffer": a_picture()}
    page.locator("input[type=file][capture]").set_input_files([picture])
    expect(page.get_by_role("img", name="Corner packed too low")).to_be_visible()
    page.get_by_role("button", name="Save this stop").click()
    expect(page.locator("#saved")).to_contain_text("stop")
    expect(page.locator("#state-line")).to_contain_text("1 photo to send")
    assert complaints == []

    context.set_offline(False)
    expect(page.locator("#state-line")).to_have_text("All at the office", timeout=40_000)
    address = page.evaluate(
        """(async () => {
          const rows = await (await idb.openDB("sillbook")).getAll("photos");
          return rows.map(({ sha256, sent_epoch }) => [sha256, Boolean(sent_epoch)]);
        })()"""
    )
    [[sha256, sent]] = address
    assert sent is True
    with server.client() as office:
        answer = office.get(f"/kept/{sha256}")
    shown = Image.open(io.BytesIO(answer.content))
    assert max(shown.size) == 2048
    assert not shown.getexif()


@pytest.mark.parametrize("theme", ["calm", "sun"])
@pytest.mark.parametrize("path", ["levels", "install", "install&stop=S5", "opening"])
def test_field_pages_of_the_survey_are_accessible(
    office_server: Server, new_phone: Phone, path: str, theme: str
) -> None:
    structure = structure_id(office_server, "MARROW")
    page = ready(new_phone(), office_server)
    name, _, rest = path.partition("&")
    page.goto(f"{office_server.url}/field/{name}?structure={structure}&{rest}")
    expect(page.locator("#structure")).to_contain_text("Marrowfen")
    if theme == "sun":
        page.get_by_role("button", name="Bright sun").click()
    for summary in page.locator("summary").all():
        summary.click()
    page.evaluate(AXE.read_text("utf-8"))
    found = page.evaluate("axe.run()")
    assert [(v["id"], [n["html"] for n in v["nodes"]][:2]) for v in found["violations"]] == []
    wide = page.evaluate("document.documentElement.scrollWidth")
    assert wide <= 390
