"""Bodies are counted while they stream and cut at the limit of their route, with a remedy."""

import asyncio
import json
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.main import create_app
from app.records.sites import Structure
from app.settings import Settings
from tests.web.test_guard import routes

PART = 16 * 1024
MB = 1024 * 1024


def streamed(
    app: FastAPI,
    method: str,
    path: str,
    *,
    cookie: str = "",
    declared: int | None = None,
    most: int = 80 * MB,
    kind: str = "application/octet-stream",
    query: str = "",
) -> tuple[int, dict[str, Any], int]:
    """Send an endless body the way a server hands it on; return status, answer, bytes taken."""
    taken = 0
    said: dict[str, Any] = {"body": b""}
    headers = [(b"host", b"127.0.0.1"), (b"content-type", kind.encode())]
    if cookie:
        headers.append((b"cookie", cookie.encode()))
    if declared is not None:
        headers.append((b"content-length", str(declared).encode()))

    async def receive() -> dict[str, Any]:
        nonlocal taken
        if taken >= most:
            return {"type": "http.disconnect"}
        taken += PART
        return {"type": "http.request", "body": b"a" * PART, "more_body": True}

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            said["status"] = message["status"]
        else:
            said["body"] += message.get("body", b"")

    scope = {
        "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": method,
        "path": path, "raw_path": path.encode(), "query_string": query.encode(),
        "headers": headers, "scheme": "http", "client": ("127.0.0.1", 1), "server": ("x", 80),
        "root_path": "",
    }  # fmt: skip
    with ThreadPoolExecutor(1) as pool:  # a browser of another test may hold this thread's loop
        pool.submit(asyncio.run, app(scope, receive, send)).result()  # type: ignore[arg-type]
    told = json.loads(said["body"]) if said["body"].startswith(b"{") else {}
    return said["status"], told, taken


def cookie_of(client: TestClient) -> str:
    return "; ".join(f"{name}={value}" for name, value in client.cookies.items())


def filled(path: str) -> str:
    path = path.replace("{sha256}", "0" * 64)
    return re.sub(r"\{[^}]+\}", "1", path)


FORMS = "application/x-www-form-urlencoded"


@pytest.mark.parametrize(
    ("method", "path", "limit", "kind", "query"),
    [
        ("POST", "/sync", 8 * MB, "application/json", ""),
        ("PUT", f"/kept/{'0' * 64}", 12 * MB, "image/jpeg", "kind=photo"),
        ("PUT", f"/kept/{'0' * 64}", 64 * MB, "text/csv", "kind=logger_file"),
        ("POST", "/sites/1", MB, FORMS, ""),
        ("POST", "/structures/1/layers", MB, FORMS, ""),
        ("POST", "/review", MB, FORMS, ""),
    ],
)
def test_a_body_is_cut_at_the_limit_of_its_route(
    app: FastAPI,
    as_office: TestClient,
    a_site: Callable[..., Structure],
    method: str,
    path: str,
    limit: int,
    kind: str,
    query: str,
) -> None:
    a_site()
    own = cookie_of(as_office)
    status, said, taken = streamed(app, method, path, cookie=own, kind=kind, query=query)
    assert status == 413
    assert set(said) == {"field", "value", "rule", "remedy"}
    assert said["remedy"]
    assert taken <= limit + PART  # not a part more than it takes to know
    assert kind == FORMS or taken > limit  # a single field of a form ends sooner
    # a length that says so is believed before the first byte
    status, _, taken = streamed(
        app, method, path, cookie=own, kind=kind, query=query, declared=limit + 1
    )
    assert (status, taken) == (413, 0)


@pytest.mark.parametrize("kind", [FORMS, "multipart/form-data; boundary=x"])
def test_a_stranger_may_send_64_kb(app: FastAPI, kind: str) -> None:
    status, said, taken = streamed(app, "POST", "/sign-in", kind=kind)
    assert status in (413, 422)  # a form that is no form ends sooner
    assert taken <= 64 * 1024 + PART
    if kind == FORMS:
        assert status == 413
        assert "64 kB" in said["rule"]
        assert said["remedy"]
        assert streamed(app, "POST", "/sign-in", declared=70_000, kind=kind)[2] == 0


def test_no_route_reads_more_of_a_stranger(app: FastAPI) -> None:
    """Every route that takes a body: refused or cut, never above the limit of strangers."""
    tried = 0
    for route in routes(app):
        path = filled(route.path)
        for method in sorted(set(route.methods or ()) - {"GET", "HEAD"}):
            tried += 1
            for kind in (FORMS, "application/json"):
                status, _, taken = streamed(app, method, path, kind=kind, most=2 * MB)
                # a sign-out of nobody is done already
                assert status in (303, 401, 413, 422) or path == "/sign-out", (method, path, status)
                assert taken <= 64 * 1024 + PART, (method, path)
    assert tried > 30


def test_a_signed_in_person_may_send_what_a_form_holds_and_no_more(
    app: FastAPI, as_steward: TestClient
) -> None:
    own = cookie_of(as_steward)
    for route in routes(app):
        path = filled(route.path)
        most = getattr(route.endpoint, "__largest__", (MB, ""))[0]
        if path.startswith("/kept/") or most >= 4 * MB:
            continue
        for method in sorted(set(route.methods or ()) - {"GET", "HEAD"}):
            status, _, taken = streamed(app, method, path, cookie=own, kind=FORMS, most=4 * MB)
            assert status != 500, (method, path)
            assert taken <= most + PART, (method, path)
            if path == "/sign-out":
                return  # the steward has left


def test_an_answer_that_streams_is_not_disturbed_by_a_body_nobody_reads(
    tmp_path: Any, settings: Settings, as_office: TestClient, session: Session
) -> None:
    app = create_app(settings)
    status, said, taken = streamed(
        app, "GET", "/pack", cookie=cookie_of(as_office), declared=10 * MB
    )
    app.state.engine.dispose()
    assert status == 200
    assert said["protocol"] == 1, "the whole pack came"
    assert taken == 0, "and nothing of the body was read"
