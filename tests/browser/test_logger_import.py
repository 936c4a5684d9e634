"""The office import in a browser: a file that asks, an absolute pressure, a discarded file."""

import re
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from tests.browser.conftest import (
    CLERK,
    CLERK_PASSWORD,
    OFFICE,
    PHONE,
    Server,
    sign_in,
    watch,
)
from tests.browser.test_pages import faults, overflow

TANSY = "1"
BEGIN = datetime(2020, 3, 2)  # noqa: DTZ001 - on the site's clock, before the demo's record


def asking_file(folder: Path) -> Path:
    """Return a file of heads whose unit and order of dates nobody can know from it."""
    stamps = [BEGIN + timedelta(hours=k) for k in range(8 * 24)]
    path = folder / "asks.csv"
    rows = "".join(f"{t:%d/%m/%Y %H:%M},0.25{k % 10}\n" for k, t in enumerate(stamps))
    path.write_text("Invented logger, serial QA-11\nTime,Level\n" + rows)
    return path


def pressure_file(folder: Path) -> Path:
    """Return absolute pressures of 2 kPa of water: 0.2039 m over the sensor."""
    stamps = [BEGIN + timedelta(days=30, hours=k) for k in range(8 * 24)]
    path = folder / "absolute.csv"
    rows = "".join(f"{t:%Y-%m-%d %H:%M},103.2,1012.0\n" for t in stamps)
    path.write_text("Invented logger, serial QB-12\nTime,Pressure (kPa),Baro (hPa)\n" + rows)
    return path


@pytest.fixture
def office(desk: Page, server: Server) -> Iterator[Page]:
    sign_in(desk, server.url, CLERK, CLERK_PASSWORD)
    complaints = watch(desk)
    yield desk
    assert complaints == []


def upload(page: Page, server: Server, path: Path) -> None:
    page.goto(f"{server.url}/sites/{TANSY}/loggers")
    page.get_by_label("Logger file, CSV or text").set_input_files(path)
    page.get_by_role("button", name="Look at the file").click()
    expect(page.get_by_role("heading", name=path.name)).to_be_visible()


def look_again(page: Page) -> None:
    with page.expect_navigation():
        page.get_by_role("button", name="Look again with these answers").click()


def fine_at_both_sizes(page: Page) -> None:
    assert faults(page) == []
    page.set_viewport_size(PHONE)
    assert overflow(page) <= 0
    page.set_viewport_size(OFFICE)


def test_a_file_that_asks_is_answered_and_imported(
    office: Page, server: Server, tmp_path: Path
) -> None:
    upload(office, server, asking_file(tmp_path))
    expect(office.get_by_role("heading", name="Questions")).to_be_visible()
    expect(office.locator("[data-go]")).to_have_count(0)
    office.screenshot(path=tmp_path / "asked.png", full_page=True)
    fine_at_both_sizes(office)
    office.get_by_label("Unit of column 2").select_option("ft")
    office.get_by_label("Order of the date").select_option("day first")
    look_again(office)
    # both answers are still there; one is wrong and is put right
    expect(office.get_by_label("Unit of column 2")).to_have_value("ft")
    expect(office.get_by_label("Order of the date")).to_have_value("day first")
    office.get_by_label("Unit of column 2").select_option("m")
    office.locator("#logger").select_option("new")
    office.locator("#name").fill("Asking logger")
    look_again(office)
    expect(office.get_by_label("Unit of column 2")).to_have_value("m")
    expect(office.locator("#name")).to_have_value("Asking logger")
    office.screenshot(path=tmp_path / "answered.png", full_page=True)
    fine_at_both_sizes(office)
    office.locator("[data-go]").click()
    expect(office.get_by_role("heading", name="Imported")).to_be_focused(timeout=30_000)
    expect(office.locator("#progress")).to_contain_text("192 new readings")


def test_an_absolute_pressure_is_imported_with_its_sensor_where_it_hangs(
    office: Page, server: Server, tmp_path: Path
) -> None:
    upload(office, server, pressure_file(tmp_path))
    expect(office.locator("[data-go]")).to_have_count(0)
    box = office.get_by_label("Height of the sensor over the crest, m")
    box.fill("a hand below")
    look_again(office)
    expect(office.get_by_role("alert")).to_contain_text("a hand below")
    expect(box).to_have_value("a hand below")  # nothing typed is lost
    box.fill("-0.045")
    office.locator("#logger").select_option("new")
    look_again(office)
    expect(box).to_have_value("-0.045")
    expect(office.get_by_text("0.045 m below the crest")).to_be_visible()
    expect(office.locator("#reads option")).to_have_count(1)  # no zero is added to it
    office.screenshot(path=tmp_path / "pressure.png", full_page=True)
    fine_at_both_sizes(office)
    office.locator("[data-go]").click()
    expect(office.get_by_role("heading", name="Imported")).to_be_focused(timeout=30_000)
    series = office.request.get(
        f"{server.url}/structures/1/series.csv?from_s=1585000000&to_s=1586400000"
    ).text()
    heads = [float(row.split(",")[3]) for row in series.split("\r\n")[1:] if row]
    assert len(heads) > 100
    assert heads == pytest.approx([2000.0 / 9806.65 - 0.045] * len(heads))


def test_a_waiting_file_is_discarded_and_taken_up_again(
    office: Page, server: Server, tmp_path: Path
) -> None:
    upload(office, server, asking_file(tmp_path))
    office.get_by_role("link", name="Logger files and import").first.click()
    waiting = office.get_by_role("region", name="Files waiting for a look")
    row = waiting.get_by_role("row").filter(has_text="asks.csv")
    expect(row).not_to_contain_text("no site said")
    row.get_by_text("Discard").first.click()
    row.get_by_label("Reason").fill("a trial in the yard")
    row.get_by_role("button", name="Discard it").click()
    expect(waiting.get_by_role("row").filter(has_text="asks.csv")).to_have_count(0)
    office.locator("summary").filter(has_text=re.compile("discarded")).click()
    gone = office.get_by_role("region", name="Discarded files")
    expect(gone).to_contain_text("a trial in the yard")
    office.screenshot(path=tmp_path / "discarded.png", full_page=True)
    fine_at_both_sizes(office)
    gone.get_by_text("Take up again").first.click()
    gone.get_by_label("Reason").fill("it was the real one")
    gone.get_by_role("button", name="Let it wait again").click()
    expect(office.get_by_role("region", name="Files waiting for a look")).to_contain_text(
        "asks.csv"
    )


def test_a_file_without_a_header_shows_what_each_column_would_mean(
    office: Page, server: Server, tmp_path: Path
) -> None:
    stamps = [BEGIN + timedelta(days=60, hours=k) for k in range(8 * 24)]
    path = tmp_path / "bare.csv"
    path.write_text("".join(f"{t:%Y-%m-%d %H:%M},1034.2,11.5,21.3\n" for t in stamps))
    upload(office, server, path)
    expect(office.get_by_role("table", name="Columns that could be the head")).to_be_visible()
    fine_at_both_sizes(office)
    office.get_by_label("Which column is the head").select_option("4")
    office.get_by_label("Logger", exact=True).select_option("new")
    look_again(office)
    office.get_by_label("What column 4 measures").select_option("pressure, vented")
    office.get_by_label("Unit of column 4").select_option("cmH2O")
    look_again(office)
    office.get_by_label("Height of the sensor over the crest, m").fill("-0.1")
    look_again(office)
    fine_at_both_sizes(office)
    expect(office.get_by_label("Which column is the head")).to_have_value("4")
    expect(office.get_by_label("What column 4 measures")).to_have_value("pressure, vented")
    expect(office.get_by_role("button", name="Import 192 rows")).to_be_visible()
