"""Made-up requests to every address: refused or answered, never a 500."""

from collections.abc import Callable

import httpx
import pytest
import schemathesis
from fastapi import FastAPI
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from schemathesis.core.result import Ok

from app.records.people import Person
from app.records.sites import Structure
from tests.conftest import signed_in

EXAMPLES = 6  # for each of some four hundred addresses, on each engine


@pytest.fixture
def steward(
    app: FastAPI, a_person: Callable[..., Person], a_site: Callable[..., Structure]
) -> TestClient:
    a_site()
    a_person("Keeper", "steward")
    client = signed_in(app, "Keeper")
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    return client


def test_no_made_up_request_is_a_500(app: FastAPI, steward: TestClient) -> None:
    schema = schemathesis.openapi.from_dict(app.openapi())
    tried = 0
    for found in schema.get_all_operations():
        assert isinstance(found, Ok)
        operation = found.ok()
        if operation.path in ("/sign-out", "/people/{person_id}"):
            continue  # would end this very sign-in

        @given(case=operation.as_strategy())
        @settings(
            max_examples=EXAMPLES,
            deadline=None,
            derandomize=True,
            database=None,
            suppress_health_check=list(HealthCheck),
        )
        def try_it(case: schemathesis.Case) -> None:
            call = case.as_transport_kwargs(base_url="http://127.0.0.1")
            call.pop("cookies", None)
            answer = steward.request(**call)
            assert answer.status_code < 500, (call, answer.text[:500])

        try_it()
        tried += 1
    assert tried > 10


def told(answer: httpx.Response) -> None:
    """Fail unless a request is answered, and a refusal says what is wrong and what to do."""
    assert answer.status_code < 500, answer.text[:500]
    if answer.status_code >= 400 and "json" in answer.headers["content-type"]:
        said = answer.json()
        assert set(said) >= {"field", "rule", "remedy"}, said
        assert said["rule"]
        assert said["remedy"]


names = st.text(max_size=30)
values = st.text(max_size=40) | st.floats().map(str) | st.integers().map(str)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(form=st.dictionaries(names, values, max_size=6))
def test_made_up_forms_are_answered(steward: TestClient, form: dict[str, str]) -> None:
    for path in ("/sign-in", "/people"):
        told(steward.post(path, data=form, headers={"accept": "application/json"}))


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(body=st.binary(max_size=300))
def test_made_up_sync_bodies_are_answered(steward: TestClient, body: bytes) -> None:
    answer = steward.post("/sync", content=body, headers={"content-type": "application/json"})
    told(answer)
