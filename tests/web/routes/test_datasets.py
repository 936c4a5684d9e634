"""The page "Take the data out": choices, first rows, refusals in words, the file itself."""

import io
import json
import zipfile
from collections.abc import Callable

from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.sites import Site, Structure
from tests.markup import tight
from tests.web.routes.test_tokens import made, shown

HTML = {"accept": "text/html"}


def test_the_page_shows_the_first_rows_and_the_file(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    base = f"/sites/{a_site().site_id}/data"
    page = tight(as_office.get(f"{base}?what=ratings&format=csv", headers=HTML).text)
    assert "First rows of ratings" in page
    assert f'href="{base}/file?what=ratings&amp;format=csv' in page
    answer = as_office.get(f"{base}/file?what=ratings&format=csv")
    assert answer.headers["content-type"] == "application/zip"
    assert 'filename="ratings-TANSY.zip"' in answer.headers["content-disposition"]
    with zipfile.ZipFile(io.BytesIO(answer.content)) as whole:
        assert "codebook.csv" in whole.namelist()
        assert whole.read("ratings.csv").decode().count("\r\n") == 2


def test_what_a_format_cannot_hold_is_said_on_the_page_and_refused_as_a_file(
    as_office: TestClient, a_site: Callable[..., Structure]
) -> None:
    base, asked = f"/sites/{a_site().site_id}/data", "?what=gaugings&format=waterml"
    page = as_office.get(base + asked, headers=HTML)
    assert page.status_code == 422
    assert "cannot hold check gaugings" in page.text
    assert "Take the file" not in page.text
    answer = as_office.get(f"{base}/file{asked}")
    assert answer.status_code == 422
    assert "Take gaugings as csv or json" in answer.text
    wrong = as_office.get(f"{base}?from=2026-02-01&to=2026-01-01", headers=HTML)
    assert wrong.status_code == 422
    assert "<h1>Take the data out</h1>" in wrong.text


def test_all_sites_and_none(as_office: TestClient, session: Session) -> None:
    read = json.loads(as_office.get("/data/file").text)
    assert read["features"] == []
    assert "No rows" in as_office.get("/data", headers=HTML).text
    session.add_all([Site(code=f"S{k}", name=f"Site {k}") for k in range(300)])
    session.commit()
    assert len(json.loads(as_office.get("/data/file").text)["features"]) == 300
    page = as_office.get("/data", headers=HTML).text
    assert page.count("<tr>") == 1 + 5, "the first rows only"


def test_the_codebook_is_a_page_for_everybody(as_crew: TestClient) -> None:
    page = as_crew.get("/codebook", headers=HTML).text
    assert "submerged, not determined" in page
    assert as_crew.get("/data", headers=HTML).status_code == 403


def test_a_script_takes_files_with_a_token_that_reads(
    as_office: TestClient, client: TestClient, a_site: Callable[..., Structure]
) -> None:
    address = f"/sites/{a_site().site_id}/data"
    head = shown(made(as_office))
    assert json.loads(client.get("/data/file", headers=head).text)["features"]
    assert zipfile.is_zipfile(io.BytesIO(client.get(f"{address}/file", headers=head).content))
    assert client.get(address, headers=head).status_code == 403, "a page is for who signs in"
