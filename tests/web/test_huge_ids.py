"""Ids beyond what either database can hold are not found, never a fault."""

import re

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from tests.web.test_guard import routes


@pytest.mark.parametrize("huge", [2**31, 2**63, 2**70])
def test_an_id_no_database_holds_is_not_found(
    app: FastAPI, as_steward: TestClient, huge: int
) -> None:
    as_steward._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    for route in routes(app):
        path = re.sub(r"\{[^}]+\}", str(huge), route.path)
        if path != route.path:
            for method in sorted(route.methods or ()):
                answer = as_steward.request(method, path, headers={"accept": "text/html"})
                assert answer.status_code < 500, (method, path)
                if answer.status_code >= 400:
                    said = 'role="alert"' in answer.text or '"remedy":' in answer.text
                    assert said, (method, path, "says nothing")
