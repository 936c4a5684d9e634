"""Old addresses: each redirects for good to an address that answers, with its query, signed in."""

import re
from urllib.parse import parse_qsl, urlsplit

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from app.web.moved import MOVED
from tests.web.test_guard import routes

ADDRESSES = [
    (old + ending, new + ending, method)
    for old, new, endings, method in MOVED
    for ending in endings
]


def filled(path: str) -> str:
    """Put a number for each part that is left open, another for the second."""
    return re.sub(r"\{(\w+)\}", lambda part: {"id": "7", "layer": "3"}[part[1]], path)


@pytest.mark.parametrize(("old", "new", "method"), ADDRESSES, ids=lambda part: part)
def test_an_old_address_redirects_for_good(
    client: TestClient, as_crew: TestClient, old: str, new: str, method: str
) -> None:
    query = "from=2026-07-01&structure=2&note=a%20b%26c"
    answer = as_crew.request(method, f"{filled(old)}?{query}")
    assert answer.status_code == (301 if method == "GET" else 308)
    target = urlsplit(answer.headers["location"])
    assert (target.scheme, target.netloc, target.path) == ("", "", filled(new))
    assert parse_qsl(target.query) == parse_qsl(query)
    # signed out: refused first, and nothing said of where it went
    refused = client.request(method, f"{filled(old)}?{query}")
    assert refused.status_code == 401
    assert "location" not in refused.headers


@pytest.mark.parametrize(("old", "new", "method"), ADDRESSES, ids=lambda part: part)
def test_the_new_address_is_a_route_and_the_old_one_is_no_other(
    app: FastAPI, old: str, new: str, method: str
) -> None:
    def shape(path: str) -> str:
        return re.sub(r"\{\w+\}", "{}", path)

    named = [
        (shape(route.path), route.endpoint.__module__)
        for route in routes(app)
        if method in (route.methods or ())
    ]
    assert shape(new) in {path for path, module in named if module != "app.web.moved"}
    assert {module for path, module in named if path == shape(old)} == {"app.web.moved"}


def test_an_id_cannot_lead_off_the_server(as_crew: TestClient) -> None:
    for odd in ("%2f%2felsewhere.example", "..", "a%0d%0aset-cookie:x", "\\\\elsewhere.example"):
        answer = as_crew.get(f"/sites/{odd}/check-gaugings")
        if answer.status_code == 301:
            target = answer.headers["location"]
            assert target.startswith("/sites/")
            assert "\n" not in target
        assert "set-cookie" not in answer.headers


def test_scripts_that_follow_redirects_go_on_working(as_office: TestClient, a_site: object) -> None:
    structure = a_site()  # type: ignore[operator]
    site = structure.site_id
    for old, new in (
        (f"/sites/{site}/daily.csv", f"/sites/{site}/daily-readings.csv"),
        (f"/sites/{site}/check-gaugings.json", f"/sites/{site}/gaugings.json"),
        (f"/structures/{structure.id}/corrections.csv", f"/structures/{structure.id}/layers.csv"),
    ):
        followed = as_office.get(f"{old}?from=2024-07-01", follow_redirects=True)
        assert followed.status_code == 200, followed.text
        assert followed.content == as_office.get(f"{new}?from=2024-07-01").content


def test_a_form_sent_to_an_old_address_arrives(as_office: TestClient, a_site: object) -> None:
    structure = a_site()  # type: ignore[operator]
    answer = as_office.post(
        f"/structures/{structure.id}/corrections", data={"shape": "twist"}, follow_redirects=True
    )
    assert answer.status_code == 422
    assert "twist" in answer.text  # the form came along


def test_gaugings_are_check_gaugings_and_readings_are_head_readings(
    as_office: TestClient, a_site: object
) -> None:
    site = a_site().site_id  # type: ignore[operator]
    gaugings = as_office.get(f"/sites/{site}/gaugings.csv")
    readings = as_office.get(f"/sites/{site}/readings.csv")
    assert "gauging_id" in gaugings.text.split("\r\n")[0].split(",")
    assert "staff_mean_m" in readings.text.split("\r\n")[0].split(",")
    assert 'filename="gaugings-' in gaugings.headers["content-disposition"]
    assert 'filename="readings-' in readings.headers["content-disposition"]
