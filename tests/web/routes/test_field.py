"""The phone's shells: open to all, without a person's data, within budget, of one release."""

import gzip
import hashlib
import json
import os
import re
import tomllib
from pathlib import Path
from typing import get_args

import pytest
from fastapi.testclient import TestClient

from app import main
from app.paths import STATIC
from app.services.entries.kinds import Condition, VisitWork
from app.web.routes.field import FIELD_PAGES, precached_files

CHECKOUT = STATIC.parent
ALL_KB, SCRIPTS_KB = 60, 25  # budget of the reading page, gzip
IMPORT = re.compile(r'^import (?:[^"]*? from )?"(\.[^"]+)"|^export [^"]*? from "(\.[^"]+)"', re.M)


def kilobytes(content: bytes) -> float:
    return len(gzip.compress(content, 9)) / 1000


def imported(path: str) -> list[str]:
    """Return the addresses of a script and all it imports."""
    found: list[str] = []
    waiting = [path]
    while waiting:
        address = waiting.pop()
        if address in found:
            continue
        found.append(address)
        text = (STATIC / address.removeprefix("/static/")).read_text(encoding="utf-8")
        for match in IMPORT.finditer(text):
            step = match[1] or match[2]
            waiting.append(os.path.normpath(os.path.join(os.path.dirname(address), step)))
    return found


def release(client: TestClient) -> dict[str, list[str] | str]:
    text = client.get("/sw.js").text
    match = re.search(r"^const RELEASE = (.*);$", text, re.M)
    assert match
    content: dict[str, list[str] | str] = json.loads(match[1])
    return content


@pytest.mark.parametrize("page", FIELD_PAGES, ids=lambda page: page.path)
def test_shell_is_open_and_names_nobody(
    page: object, client: TestClient, as_crew: TestClient
) -> None:
    path = page.path  # type: ignore[attr-defined]
    signed_out, signed_in = client.get(path), as_crew.get(path)
    assert signed_out.status_code == 200
    assert signed_out.text == signed_in.text
    assert "Crew One" not in signed_in.text
    assert signed_out.headers["cache-control"] == "no-cache"
    assert signed_out.headers["vary"] == "Accept-Encoding"
    assert "set-cookie" not in signed_out.headers


@pytest.mark.parametrize("page", FIELD_PAGES, ids=lambda page: page.path)
def test_shell_needs_no_inline_script_or_style(page: object, client: TestClient) -> None:
    text = client.get(page.path).text  # type: ignore[attr-defined]
    assert not re.search(r"<style|\sstyle=|\son\w+=|<script(?![^>]*\ssrc=)", text)


def test_every_listed_address_answers(client: TestClient) -> None:
    listed = release(client)
    for address in [*listed["pages"], *listed["files"]]:
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert not answer.history


def test_everything_a_shell_asks_for_is_listed(client: TestClient) -> None:
    files = set(release(client)["files"])
    for page in FIELD_PAGES:
        asked = set(
            re.findall(r'(?:src|href)="(/(?:static/|manifest)[^"]+)"', client.get(page.path).text)
        )
        assert asked <= files
        scripts = imported(f"/static/field/{page.script}")
        assert set(scripts) <= files
        assert set(scripts) <= asked, "each script is asked for at once, none behind another"
    icons = json.loads(client.get("/manifest.webmanifest").text)["icons"]
    assert {icon["src"] for icon in icons} <= files


def test_worker_names_the_release_and_is_never_cached(client: TestClient) -> None:
    answer = client.get("/sw.js")
    assert answer.headers["cache-control"] == "no-cache"
    assert answer.headers["content-type"].startswith("text/javascript")
    assert release(client)["version"] == client.app.state.version  # type: ignore[attr-defined]
    install = answer.text.split("async function activate")[0]
    assert "skipWaiting" not in install


def test_release_changes_with_any_template_or_static_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("TEMPLATES", "STATIC"):
        (tmp_path / name).mkdir()
        monkeypatch.setattr(main, name, tmp_path / name)
    seen = {main.shell_version()}
    for name in ("TEMPLATES/a.html", "STATIC/b.js"):
        for content in ("one", "two"):
            (tmp_path / name).write_text(content, encoding="utf-8")
            seen.add(main.shell_version())
    assert len(seen) == 5


def test_reading_page_keeps_its_budget(client: TestClient) -> None:
    text = client.get("/field/reading").text
    scripts = imported("/static/field/reading/page.js")
    others = set(re.findall(r'(?:src|href)="(/(?:static/|manifest)[^"]+)"', text)) - set(scripts)
    script_kb = sum(kilobytes(client.get(address).content) for address in scripts)
    rest_kb = sum(kilobytes(client.get(address).content) for address in others)
    assert script_kb <= SCRIPTS_KB, script_kb
    assert script_kb + rest_kb + kilobytes(text.encode()) <= ALL_KB


def test_precached_files_hold_nothing_else() -> None:
    assert not [f for f in precached_files() if "htmx" in f or "uPlot" in f or f.endswith(".json")]


def test_vendored_files_are_what_their_list_says() -> None:
    packages = tomllib.loads((STATIC / "vendor" / "VENDOR.toml").read_text("utf-8"))["package"]
    listed: dict[str, str] = {}
    for package in packages:
        assert package["version"]
        assert package["licence"]
        assert any(name.endswith("/LICENSE") for name in package["files"])
        listed |= package["files"]
    folders = [STATIC / "vendor", CHECKOUT / "tests" / "browser" / "vendor"]
    present = {
        path.relative_to(CHECKOUT).as_posix()
        for folder in folders
        for path in folder.rglob("*")
        if path.is_file() and path.name != "VENDOR.toml"
    }
    assert present == set(listed)
    for name, sum_ in listed.items():
        assert hashlib.sha256((CHECKOUT / name).read_bytes()).hexdigest() == sum_, name


def test_a_visit_offers_every_condition_and_every_work_that_is_taken(client: TestClient) -> None:
    page = client.get("/field/visit").text
    for name, taken in (("conditions", Condition), ("done", VisitWork)):
        offered = re.findall(rf'name="{name}"\s+value="([^"]+)"', page)
        assert offered == list(get_args(taken)), name
