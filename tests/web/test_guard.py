"""Every route against every role, cross-site writes, headers, and how sign-in refuses."""

import re
from collections.abc import Callable, Iterator

import pytest
from fastapi import FastAPI
from fastapi.routing import APIRoute
from fastapi.testclient import TestClient

from app.records.people import Person
from app.web.guard import CSP, GuardedRoute
from tests.conftest import PASSWORD, signed_in


def routes(app: FastAPI) -> Iterator[APIRoute]:
    def walk(found: list[object]) -> Iterator[APIRoute]:
        for route in found:
            if isinstance(route, APIRoute):
                yield route
            elif hasattr(route, "original_router"):
                yield from walk(route.original_router.routes)

    yield from walk(list(app.routes))


def address(route: APIRoute) -> str:
    return re.sub(r"\{[^}]+\}", "1", route.path)


def call(client: TestClient, method: str, path: str, accept: str) -> int:
    headers = {"accept": accept}
    return client.request(method, path, headers=headers).status_code


def quiet(app: FastAPI, role: str) -> TestClient:
    """Return a client signed in as the person of that role; a fault is an answer, not a raise."""
    client = signed_in(app, role)
    client._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    return client


def test_every_route_says_who_may_call_it(app: FastAPI) -> None:
    found = list(routes(app))
    assert len(found) > 8
    for route in found:
        assert isinstance(route, GuardedRoute), route.path
        assert hasattr(route.endpoint, "__access__"), f"{route.path} is open to nobody: mark it"


@pytest.mark.parametrize("accept", ["text/html", "application/json"])
def test_role_by_route_matrix(app: FastAPI, a_person: Callable[..., Person], accept: str) -> None:
    a_person("nobody's", "crew")  # person 1, whom the routes of people retire and rename
    clients = {}
    for role in ("crew", "office", "steward"):
        a_person(role, role)
        clients[role] = quiet(app, role)
    out = TestClient(
        app, base_url="http://127.0.0.1", follow_redirects=False, raise_server_exceptions=False
    )
    for route in routes(app):
        access = route.endpoint.__access__  # type: ignore[attr-defined]
        for method in sorted(route.methods or ()):
            if not access:
                continue
            path = address(route)
            assert call(out, method, path, accept) == 401, (method, path)
            for role, client in clients.items():
                status = call(client, method, path, accept)
                if status == 401:  # an earlier request ended this sign-in
                    clients[role] = quiet(app, role)
                    status = call(clients[role], method, path, accept)
                if role in access:
                    assert status not in (401, 403), (role, method, path, status)
                    assert status < 500, (role, method, path, status)
                else:
                    assert status == 403, (role, method, path, status)


def test_headers_on_every_answer(client: TestClient) -> None:
    for path in ("/sign-in", "/nowhere", "/static/app.css", "/pack"):
        headers = client.get(path).headers
        assert headers["content-security-policy"] == CSP
        assert "unsafe" not in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    ("headers", "allowed"),
    [
        ({"sec-fetch-site": "cross-site"}, False),
        ({"sec-fetch-site": "same-site"}, False),
        ({"sec-fetch-site": "same-origin"}, True),
        ({"origin": "http://elsewhere.example"}, False),
        ({"origin": "null"}, False),
        ({"origin": "http://127.0.0.1"}, True),
        ({"referer": "http://elsewhere.example/x"}, False),
        ({}, True),
    ],
)
def test_writes_from_other_sites_are_refused(
    client: TestClient, headers: dict[str, str], allowed: bool
) -> None:
    answer = client.post("/sign-in", data={"name": "x", "password": "y"}, headers=headers)
    assert (answer.status_code != 403) == allowed
    assert ("own pages" in answer.text) == (not allowed)


def test_sign_in_cookie_is_closed_to_scripts(
    app: FastAPI, a_person: Callable[..., Person], client: TestClient
) -> None:
    a_person("Ines", "crew")
    cookie = client.post("/sign-in", data={"name": "Ines", "password": PASSWORD}).headers[
        "set-cookie"
    ]
    assert "HttpOnly" in cookie
    assert "SameSite=lax" in cookie
    assert "Path=/" in cookie


def test_next_never_leaves_the_server(a_person: Callable[..., Person], client: TestClient) -> None:
    a_person("Ines", "crew")
    for target in ("//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example"):
        answer = client.post(
            "/sign-in", data={"name": "Ines", "password": PASSWORD, "next": target}
        )
        assert answer.headers["location"] == "/"


def test_sign_in_pauses_after_five_failures(
    a_person: Callable[..., Person], client: TestClient
) -> None:
    a_person("Ines", "crew")
    for _ in range(5):
        assert client.post("/sign-in", data={"name": "Ines", "password": "x"}).status_code == 422
    answer = client.post("/sign-in", data={"name": "Ines", "password": PASSWORD})
    assert answer.status_code == 429
    assert int(answer.headers["retry-after"]) > 0


def test_sign_out_ends_the_session(as_crew: TestClient) -> None:
    assert as_crew.get("/pack").status_code == 200
    kept = dict(as_crew.cookies)
    as_crew.post("/sign-out")
    as_crew.cookies.update(kept)
    again = as_crew.get("/pack")
    assert again.status_code == 401, "the same cookie opens nothing"
    assert again.json()["rule"] == "nobody is signed in"


def test_a_late_sign_out_ends_its_own_sign_in_and_no_other(as_crew: TestClient) -> None:
    mark = as_crew.get("/pack").json()["sign_in"]
    first = dict(as_crew.cookies)
    form = {"name": "Crew One", "password": PASSWORD}
    assert as_crew.post("/sign-in", data=form, follow_redirects=False).status_code == 303
    newer = as_crew.get("/pack").json()["sign_in"]
    assert newer != mark
    answer = as_crew.post(f"/sign-out?of={mark}")
    assert answer.json() == {"protocol": 1, "signed_out": True}
    assert as_crew.get("/pack").status_code == 200, "who signed in since stays"
    as_crew.post(f"/sign-out?of={newer}")
    assert as_crew.get("/pack").status_code == 401
    as_crew.cookies.clear()
    as_crew.cookies.update(first)
    assert as_crew.get("/pack").status_code == 401, "signing in again ended the first"


def test_sign_out_of_nobody_is_done(client: TestClient) -> None:
    assert client.post("/sign-out?of=0123").json()["signed_out"] is True
    answer = client.post("/sign-out", headers={"accept": "text/html"}, follow_redirects=False)
    assert answer.headers["location"] == "/sign-in"


def test_the_mark_of_a_sign_in_lets_nobody_in(as_crew: TestClient, client: TestClient) -> None:
    client.cookies.set("sillbook", as_crew.get("/pack").json()["sign_in"])
    answer = client.get("/pack")
    assert answer.status_code == 401
    assert set(answer.json()) == {"field", "value", "rule", "remedy"}, "nothing of the pack"
