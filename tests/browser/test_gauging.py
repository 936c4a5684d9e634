"""A whole check gauging made on a phone without signal, then the same numbers in the office.

The section is invented; its discharge by the mid-section rule is plain arithmetic by hand
(the rule as told in Morgenschweis 2010, Hydrometrie, after ISO 748). The fills are arithmetic too.
"""

import csv
import io
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.browser.conftest import CREW, CREW_PASSWORD, Server, sign_in, watch

AXE = next((Path(__file__).parent / "vendor").rglob("axe.min.js"))
TAPE = ("0,2", "0.4", "0.6", "0.8", "1.0", "1.2", "1.4", "1.6", "1,8")
DEPTHS = (".22", "0.31", "0.36", "0.38", "0.39", "0.38", "0.35", "0.30", "0.20")
SPEEDS = ("0,24", "0.33", "0.39", "0.42", "0.43", "0.42", "0.38", "0.32", "0.22")
MID_SECTION_M3S = 0.21108
Phone = Callable[..., BrowserContext]


@pytest.fixture
def phone(new_phone: Phone, server: Server) -> Page:
    """Give a signed-in phone that keeps its pages."""
    page = new_phone().new_page()
    sign_in(page, server.url, CREW, CREW_PASSWORD, "/field")
    expect(page.get_by_role("link", name="Tansy Hollow")).to_be_visible()
    page.evaluate("(async () => { await navigator.serviceWorker.ready })()")
    page.reload()
    expect(page.get_by_role("link", name="Tansy Hollow")).to_be_visible()
    return page


def structure_of(server: Server, code: str) -> dict[str, Any]:
    with server.client() as office:
        sites = office.get("/pack").json()["sites"]
    site = next(one for one in sites if one["code"] == code)
    return {**site["structures"][0], "site_id": site["id"]}


def open_gauging(page: Page, server: Server, structure: dict[str, Any], method: str) -> None:
    page.goto(f"{server.url}/field/gauging?structure={structure['id']}")
    page.locator(f'[data-method="{method}"]').click()


def read_staff(page: Page, start: str, end: str) -> None:
    page.locator("[name=head_0]").fill(start)
    page.get_by_label("clearly free").check()
    page.locator("[name=head_1]").fill(end)


def type_vertical(page: Page, tape: str, depth: str, speed: str) -> None:
    row = page.locator("section.vertical")
    row.get_by_label("Tape").fill(tape)
    row.get_by_label(re.compile("^Depth")).fill(depth)
    row.get_by_label("Velocity at 0.6").fill(speed)


def type_section(page: Page) -> None:
    page.get_by_label("I have read this").check()
    page.locator("[name=first_edge]").fill("0")
    for i, row in enumerate(zip(TAPE, DEPTHS, SPEEDS, strict=True)):
        if i:
            page.get_by_role("button", name="Add a vertical", exact=True).click()
        type_vertical(page, *row)
    page.locator("[name=last_edge]").fill("2")


def save(page: Page) -> None:
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.locator("#saved")).to_contain_text("on this phone")


def records(page: Page) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = page.evaluate(
        """async () => {
          const { openFieldDatabase } = await import("/static/field/keep/database.js");
          const { makeOutbox } = await import("/static/field/keep/outbox.js");
          return makeOutbox(openFieldDatabase).all();
        }"""
    )
    return found


def send(page: Page, server: Server) -> None:
    page.goto(server.url + "/field/outbox")
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#state-line")).to_have_text("All at the office")


def rows_of(server: Server, structure: dict[str, Any], page: Page) -> list[dict[str, str]]:
    """Return the office's rows of the gaugings that this phone made."""
    mine = {record["id"] for record in records(page)}
    with server.client() as office:
        text = office.get(f"/sites/{structure['site_id']}/gaugings.csv").text
    rows = csv.DictReader(io.StringIO(text))
    return [row for row in rows if row["gauging_id"] in mine]


def test_a_section_gauged_offline_has_the_same_numbers_in_the_office_and_the_csv(
    phone: Page, server: Server, desk: Page
) -> None:
    complaints = watch(phone)
    structure = structure_of(server, "TANSY")
    phone.context.set_offline(True)
    open_gauging(phone, server, structure, "velocity_area")
    read_staff(phone, "452", "452")
    type_section(phone)
    phone.get_by_label("clear", exact=True).check()
    phone.get_by_label("Others present").fill("Tamsin")
    phone.get_by_label("Instrument, in your words").fill("Propeller (invented)")
    # the verdict before anybody leaves
    expect(phone.locator("#discharge .amount")).to_have_text("211 L/s")
    expect(phone.locator("#verdict-line")).to_contain_text("not proven: the gauging is known to")
    expect(phone.locator("#next-vertical")).to_contain_text("15.9 %")
    expect(phone.locator("#picture svg[role=img]")).to_be_visible()
    expect(phone.locator("#picture .panel.over")).to_have_count(5)
    save(phone)
    [record] = records(phone)
    preview = record["entry"]["body"]["preview"]
    assert preview["discharge_m3s"] == pytest.approx(MID_SECTION_M3S, rel=1e-9)
    assert record["state"] == "waiting"

    phone.context.set_offline(False)
    send(phone, server)
    [row] = rows_of(server, structure, phone)
    assert row["gauging_id"] == record["id"]
    assert float(row["discharge_m3s"]) == pytest.approx(preview["discharge_m3s"], rel=1e-9)
    assert float(row["uncertainty_pct"]) == pytest.approx(preview["uncertainty_pct"], rel=1e-9)
    # the phone reads the rating from its table: within 0.05 %
    rated = float(row["rating_discharge_m3s"])
    assert rated == pytest.approx(preview["rating_m3s"], rel=5e-4)
    assert float(row["deviation_pct"]) == pytest.approx(preview["deviation_pct"], abs=0.06)
    assert float(row["e_n"]) == pytest.approx(preview["e_n"], abs=0.01)
    assert row["verdict"] == preview["word"] == "not proven"
    assert (row["observers"], row["control_condition"]) == ("Ines; Tamsin", "clear")

    complaints += watch(desk)
    sign_in(desk, server.url, "Rudd", "ledger lamp and kettle", "/sites")
    desk.goto(f"{server.url}/sites/{structure['site_id']}/gaugings")
    expect(desk.locator("tbody")).to_contain_text("not proven")
    desk.locator(f"a[href='/gaugings/{record['id']}']").click()
    expect(desk.locator(".answer .big")).to_have_text(re.compile(r"^211 L/s ± 25 \(12 %\)$"))
    expect(desk.locator("#picture svg[role=img]")).to_be_visible()
    expect(desk.locator("#phone ~ p")).to_contain_text("They agree.")
    assert accessible(desk) == []
    assert complaints == []


def test_bad_figures_are_named_and_nothing_is_lost(phone: Page, server: Server) -> None:
    structure = structure_of(server, "TANSY")
    open_gauging(phone, server, structure, "velocity_area")
    read_staff(phone, "452", "452")
    type_section(phone)
    phone.locator('button.closed[data-row="3"]').click()
    phone.locator("section.vertical").get_by_label("Tape").fill("0.5")
    expect(phone.locator("#named")).to_contain_text("Vertical 5 tape “0.5”: verticals go one way")
    phone.get_by_role("button", name="Save", exact=True).click()
    expect(phone.locator("#problem")).to_contain_text("no whole discharge yet")
    assert records(phone) == []
    # after a crash the form is back, fault and all, and a tap puts it right
    phone.reload()
    expect(phone.locator("#restored")).to_contain_text("half-filled gauging is back")
    expect(phone.locator("#named")).to_contain_text("verticals go one way")
    phone.get_by_role("button", name="Put the verticals in order").click()
    expect(phone.locator("#named")).to_have_count(0)
    # kept as it is, when nobody can go back to the water
    phone.locator("section.vertical").get_by_label(re.compile("^Depth")).fill("-0.3")
    expect(phone.locator("#named")).to_contain_text("must not be below zero")
    phone.get_by_role("button", name="Save", exact=True).click()
    phone.get_by_role("button", name="Save without a discharge").click()
    expect(phone.locator("#saved")).to_contain_text("Kept without a discharge.")
    send(phone, server)
    [row] = rows_of(server, structure, phone)
    assert (row["verdict"], row["discharge_m3s"]) == ("no discharge", "")
    assert "must not be below zero" in row["reason"]


def test_the_suggested_vertical_goes_where_it_belongs(phone: Page, server: Server) -> None:
    structure = structure_of(server, "TANSY")
    open_gauging(phone, server, structure, "velocity_area")
    type_section(phone)
    phone.get_by_role("button", name=re.compile("Add a vertical at")).click()
    expect(phone.locator("section.vertical").get_by_label("Tape")).to_have_value("0.9")
    # being typed, it leaves the sum of the others standing
    expect(phone.locator("#discharge .plus-minus")).to_have_text("so far")
    type_vertical(phone, "0.9", "0.39", "0.43")
    expect(phone.locator('[data-name="4"]')).to_have_text("Vertical 6")
    expect(phone.locator("#discharge .plus-minus")).to_contain_text("±")


def test_fast_water_speaks_up_and_the_caution_stands_before_saving(
    phone: Page, server: Server
) -> None:
    structure = structure_of(server, "TANSY")
    open_gauging(phone, server, structure, "velocity_area")
    type_section(phone)
    phone.get_by_label("I have read this").uncheck()
    phone.get_by_role("button", name="Save", exact=True).click()
    expect(phone.locator("#problem")).to_contain_text("Read the caution")
    row = phone.locator("section.vertical")
    row.get_by_label(re.compile("^Depth")).fill("0.7")
    row.get_by_label("Velocity at 0.6").fill("1.5")
    expect(phone.locator("#wading-live")).to_contain_text("at or over the limit of 1")


def test_fills_and_a_gulp_from_a_file_offline(phone: Page, server: Server, tmp_path: Path) -> None:
    structure = structure_of(server, "MARROW")
    phone.context.set_offline(True)
    open_gauging(phone, server, structure, "volumetric")
    read_staff(phone, "190", "190")
    phone.get_by_label("Fill 1").fill("20")
    for i, time in enumerate(("8,2", "8.4", "8.1", "8.3", "8.25")):
        if i:
            phone.get_by_role("button", name="Add a fill").click()
        phone.locator("#method-form .two").nth(i).get_by_label("Time").fill(time)
    expect(phone.locator("#discharge .amount")).to_have_text("2.424 L/s")
    expect(phone.locator("#verdict-line")).to_contain_text("fails")
    save(phone)

    trace = [85, 85, 88, 102, 131, 158, 149, 128, 111, 99, 92, 88, 86, 85, 85]
    lines = "\r\n".join(f"{4 * i};{value},0;{value + 1},0" for i, value in enumerate(trace))
    file = tmp_path / "probe.csv"
    file.write_text("time_s;left;right\r\n" + lines, "utf-8")
    open_gauging(phone, server, structure, "dilution_gulp")
    read_staff(phone, "190", "190")
    phone.get_by_label("Salt, dry").fill("200")
    phone.get_by_label("File of the logger").set_input_files(file)
    # 200 g over 0.486 x 1188 uS s/cm: the default factor, Richardson and others 2017, Confluence
    expect(phone.locator("#discharge .amount")).to_have_text("346 L/s")
    expect(phone.locator("#result")).to_contain_text("the probes differ by 0.0 %: mixed")
    expect(phone.locator("#result")).to_contain_text("default salt factor: calibrate at the site")
    phone.get_by_label("Background before").fill("400")
    expect(phone.locator("#named")).to_contain_text("background is not below the peak")
    phone.get_by_label("Background before").fill("")
    save(phone)

    phone.context.set_offline(False)
    send(phone, server)
    fills, gulp = rows_of(server, structure, phone)
    assert float(fills["discharge_m3s"]) == pytest.approx(0.1 / 41.25, rel=1e-9)
    assert float(gulp["discharge_m3s"]) == pytest.approx(200 / (0.486 * 1188), rel=1e-9)
    assert (fills["verdict"], gulp["verdict"]) == ("fails", "fails")


def test_a_portable_plate_is_rated_offline_from_the_pack(phone: Page, server: Server) -> None:
    structure = structure_of(server, "MARROW")
    phone.context.set_offline(True)
    open_gauging(phone, server, structure, "portable")
    phone.get_by_label("I have read this").check()
    read_staff(phone, "100", "100")
    phone.get_by_label("Portable device").select_option("plate-v90")
    phone.get_by_label("Head over its own zero 1").fill("200")
    phone.get_by_label("A free drop is visible").check()
    # 1.38 h^2.5, a national irrigation manual: 24.69 L/s
    expect(phone.locator("#discharge .amount")).to_have_text(
        re.compile(r"^24\.6\d? ?L/s|^24\.7\d? ?L/s")
    )
    save(phone)
    [record] = records(phone)
    phone.context.set_offline(False)
    send(phone, server)
    [row] = rows_of(server, structure, phone)
    shown = record["entry"]["body"]["preview"]["discharge_m3s"]
    assert float(row["discharge_m3s"]) == pytest.approx(shown, rel=5e-4)
    assert float(row["discharge_m3s"]) == pytest.approx(1.38 * 0.2**2.5, rel=0.005)


def test_a_stored_gauging_is_corrected_with_a_reason(phone: Page, server: Server) -> None:
    structure = structure_of(server, "TANSY")
    open_gauging(phone, server, structure, "velocity_area")
    read_staff(phone, "452", "452")
    type_section(phone)
    save(phone)
    send(phone, server)
    phone.get_by_role("link", name="Correct it").click()
    expect(phone.locator("#restored")).to_contain_text("This makes a correction")
    phone.locator('button.closed[data-row="0"]').click()
    phone.locator("section.vertical").get_by_label(re.compile("^Depth")).fill("0.24")
    phone.get_by_role("button", name="Save", exact=True).click()
    expect(phone.locator("#problem")).to_have_text("Say why it is corrected.")
    phone.get_by_label("Why it is corrected").fill("Depth misread")
    save(phone)
    send(phone, server)
    [row] = rows_of(server, structure, phone)
    assert row["correction_reason"] == "Depth misread"
    assert float(row["discharge_m3s"]) == pytest.approx(MID_SECTION_M3S + 0.02 * 0.24 * 0.2)


def accessible(page: Page) -> list[str]:
    page.evaluate(AXE.read_text("utf-8") + ";0")
    found = page.evaluate("axe.run()")
    return [f"{one['id']}: {json.dumps(one['nodes'][0]['target'])}" for one in found["violations"]]


def test_the_gauging_page_is_accessible_and_its_targets_are_large(
    phone: Page, server: Server
) -> None:
    complaints = watch(phone)
    structure = structure_of(server, "TANSY")
    phone.goto(f"{server.url}/field/gauging?structure={structure['id']}")
    expect(phone.locator(".method").first).to_be_visible()
    assert accessible(phone) == []
    for method in ("volumetric", "dilution_gulp", "dilution_constant", "portable", "float"):
        phone.locator(f'[data-method="{method}"]').click()
        assert accessible(phone) == [], method
        phone.get_by_role("button", name="Change", exact=True).click()
    phone.locator('[data-method="velocity_area"]').click()
    type_section(phone)
    for summary in phone.locator("#work summary").all():
        summary.click()
    assert accessible(phone) == []
    small = phone.evaluate(
        """() => [...document.querySelectorAll(
          'main button, main input, main select, main summary')]
        .filter((one) => one.checkVisibility() && !['radio', 'checkbox'].includes(one.type))
        .map((one) => [one.outerHTML.slice(0, 80), one.getBoundingClientRect().height])
        .filter(([, height]) => height < 48)"""
    )
    assert small == []
    wide = phone.evaluate("document.documentElement.scrollWidth")
    assert wide <= 390
    assert complaints == []
