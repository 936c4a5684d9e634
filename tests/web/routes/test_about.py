"""The page of numbers says of every family what the registry says."""

import html

from fastapi.testclient import TestClient

from app.services.sites.families import family_cards


def test_every_family_shows_its_sources(as_crew: TestClient) -> None:
    page = html.unescape(as_crew.get("/about/numbers", headers={"accept": "text/html"}).text)
    for card in family_cards():
        assert card["name"].lower() in page.lower()
        assert card["limits"] in page
        for source in card["sources"]:
            assert source["text"] in page
    rows = as_crew.get("/about/numbers.json").json()["rows"]
    assert [r["family"] for r in rows] == [c["family"] for c in family_cards()]
