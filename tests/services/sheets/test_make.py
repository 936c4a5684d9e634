"""Sheets of paper: the figures of the lists, every section, and a site that holds nothing.

The PDF is made by chromium and read back by the independent reader `pypdf`.
"""

import csv
import io
import re
import unicodedata
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from pypdf import PdfReader
from sqlmodel import Session

from app.errors import BadInput
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.sheets.make import SHEETS, printed, sheet_of
from app.services.sheets.pdf import as_pdf
from app.services.sites.register import add_site
from tests.web.sweep import steward_of

NOW = datetime(2026, 11, 26, tzinfo=UTC)
# ISO 216 and ANSI sizes in points (1/72 inch), from memory
SIZES = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
WORDS = {
    "report": ("What is there", "Rating table", "Flow", "Check gaugings", "Gauge zeros", "Changes",
               "What is not known", "certifies nothing"),
    "takes": ("Limits and their use", "Volume by month", "Corrections in the period"),
    "installation": ("Plans", "Installed", "As built", "Not known", "Cautions"),
    "field": ("Head readings", "Level run", "Hold points", "Moving water takes people"),
    "card": ("Rating", "Gauge zero", "Head range", "no certificate"),
}  # fmt: skip


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder = tmp_path_factory.mktemp("paper")
    app, client = steward_of(f"sqlite:///{folder}/demo.sqlite3", folder)
    yield client
    app.state.engine.dispose()


@pytest.mark.parametrize("what", SHEETS)
def test_a_pdf_has_its_paper_its_sections_and_its_page_numbers(
    client: TestClient, tmp_path: Path, what: str
) -> None:
    paper = "letter" if what in ("takes", "card") else "a4"
    app: Any = client.app
    with Session(app.state.engine) as session:
        site = session.get(Site, 1)
        sheet = sheet_of(session, site, what, "2026-06-01", "2026-08-31", by="Rudd", now=NOW)
        as_pdf(printed(session, sheet, paper, alone=True), tmp_path / "sheet.pdf")
    pages = PdfReader(tmp_path / "sheet.pdf").pages
    assert len(pages) >= (1 if what == "card" else 2)
    for number, page in enumerate(pages, 1):
        size = (float(page.mediabox.width), float(page.mediabox.height))
        assert size == pytest.approx(SIZES[paper], abs=1.0)
        text = page.extract_text()
        assert f"page {number} of {len(pages)}" in text
        assert "Invented data." in text
        assert "Tansy Hollow intake" in text
        assert "by Rudd" in " ".join(text.split())
    whole = unicodedata.normalize("NFKC", " ".join(page.extract_text() for page in pages))
    whole = " ".join(whole.split())
    for words in WORDS[what]:
        assert words in whole, words


def test_the_figures_of_the_report_are_those_of_the_lists(client: TestClient) -> None:
    asked = "from=2026-06-01&to=2026-08-31"
    page = client.get(f"/sites/1/sheets/report?{asked}", headers={"accept": "text/html"}).text
    days = csv.DictReader(io.StringIO(client.get(f"/structures/1/daily.csv?{asked}").text))
    found = dict(re.findall(r"<td>(2026-\d\d-\d\d)</td>\s*<td>([^<]*)</td>", page))
    seen = 0
    for row in days:
        litres = 1000.0 * float(row["mean_m3s"])
        shown = float(found[row["day"]].split(" ", 1)[0])
        assert shown == pytest.approx(litres, rel=0.006)
        seen += 1
    assert seen == 92
    totals = client.get(f"/structures/1/totals.json?by=month&{asked}").json()["rows"]
    for row in totals:
        volume = re.search(rf"<td>{row['period']}</td>\s*<td>([\d\u202f]+) m³", page)
        assert volume is not None
        assert float(volume[1].replace("\u202f", "")) == pytest.approx(row["volume_m3"], rel=1e-3)
    gaugings = client.get(f"/sites/1/gaugings.json?{asked}").json()["rows"]
    assert page.count("<td>agrees</td>") == sum(row["verdict"] == "agrees" for row in gaugings)


@pytest.mark.parametrize("what", SHEETS)
@pytest.mark.parametrize(
    "asked", ["", "?from=2016-01-01&to=2026-11-30", "?from=1999-01-01&to=1999-02-01"]
)
def test_every_sheet_of_every_site_for_any_period(
    client: TestClient, what: str, asked: str
) -> None:
    for site in (1, 2, 3):
        answer = client.get(f"/sites/{site}/sheets/{what}{asked}", headers={"accept": "text/html"})
        assert answer.status_code == 200
        assert "<h1>" in answer.text
        assert len(answer.text) < 1_500_000


def test_a_site_that_holds_nothing_says_so(
    session: Session, a_person: Callable[..., Person]
) -> None:
    form = {"code": "EMPTY", "name": "Empty", "utc_offset": "0", "head_unit": "mm"}
    site = add_site(session, form, a_person("Ines").id)
    said = {
        what: printed(session, sheet_of(session, site, what, "", "", by="x", now=NOW), "a4",
                      alone=True)
        for what in SHEETS
    }  # fmt: skip
    assert "No structure is on record." in said["report"]
    assert "No structure is on record." in said["takes"]
    assert "No structure is on record." in said["card"]
    assert "Invented data" not in said["report"]


def test_the_card_reads_from_the_staff(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    """A staff reading and the gauge zero give the head; the rating is asked at that head."""
    structure = a_site()
    sheet = sheet_of(session, session.get(Site, structure.site_id), "card", "", "", by="x", now=NOW)
    (section,) = sheet.sections
    (grid,) = section.grids
    assert grid.heads[0].startswith("Staff")
    assert len(grid.rows) > 5
    assert [row[0] for row in grid.rows] == sorted((row[0] for row in grid.rows), key=float)


def test_a_sheet_or_paper_that_is_not_kept_is_refused(client: TestClient) -> None:
    headers = {"accept": "application/json"}
    strange = client.get("/sites/1/sheets/poster", headers=headers)
    assert (strange.status_code, strange.json()["field"]) == (422, "what")
    strange = client.get("/sites/1/sheets/card?paper=a0", headers=headers)
    assert (strange.status_code, strange.json()["field"]) == (422, "paper")
    turned = client.get("/sites/1/sheets/report?from=2026-02-01&to=2026-01-01", headers=headers)
    assert turned.status_code == 422
    assert turned.json()["remedy"]


def test_without_anything_that_makes_a_pdf_the_remedy_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("app.services.sheets.pdf.shutil.which", lambda _: None)
    monkeypatch.setattr("app.services.sheets.pdf.importlib.import_module", _not_here)
    with pytest.raises(BadInput, match="nothing on this machine") as refused:
        as_pdf("<p>", tmp_path / "x.pdf")
    assert "sillbook[pdf]" in refused.value.remedy


def _not_here(name: str) -> None:
    raise ImportError(name)
