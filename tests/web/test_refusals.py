"""Requests that once were a crash, and what they answer now."""

from collections.abc import Callable

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from app.records.sites import Structure

REGEX = ("[0-9a-f]", r"^\d", "{0,")


@pytest.fixture
def office(as_office: TestClient) -> TestClient:
    as_office._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    return as_office


@pytest.mark.parametrize("accept", ["text/html", "application/json"])
def test_a_month_in_the_review_is_answered(
    office: TestClient, a_site: Callable[..., Structure], accept: str
) -> None:
    a_site()
    for month in ("2026-07", "2026-13", "july", "9999-12", "0000-01"):
        answer = office.get("/review", params={"month": month}, headers={"accept": accept})
        assert answer.status_code in (200, 422), (month, answer.status_code)


def test_no_regular_expression_is_shown(app: FastAPI, office: TestClient) -> None:
    for path in (
        "/audit?site=x",
        "/structures/1/totals?by=century",
        "/structures/1/record/series.json?with=a",
        "/gaugings/none",
        "/files/none",
    ):
        for accept in ("text/html", "application/json"):
            answer = office.get(path, headers={"accept": accept})
            assert answer.status_code in (404, 422), path
            assert not any(part in answer.text for part in REGEX), (path, answer.text[:300])
    bad = {"id": "no id", "kind": "visit", "site_id": 1, "body": {}}
    answer = office.post("/sync", json={"protocol": 1, "phone": "p", "entries": [bad]})
    assert not any(part in answer.text for part in REGEX), answer.text
