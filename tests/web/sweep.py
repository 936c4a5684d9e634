"""Ask every page of the demo everything: each query and each form field, with hostile values.

`python -m tests.web.sweep --requests 20000` crawls the pages a steward can reach, harvests every
form and every query of a link, and changes one or two fields at a time. It prints each answer of
500 or more with what was sent, and a line with the count. The suite runs a small dose.
"""

import argparse
import atexit
import random
import re
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from functools import cache
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import parse_qsl, urlsplit

from fastapi import FastAPI
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.demo import build as demo
from app.main import create_app
from app.records.database import migrate, open_engine
from app.settings import Settings
from app.web.guard import HEADERS
from tests.web.test_guard import routes

HOSTILE = (
    "", " ", "0", "-1", "-9000", "1e308", "1e-320", "NaN", "inf", "1,5", "6,000", "1.234,5",
    "9" * 40, "2147483648", "9223372036854775808", "\0", "\ud83d\ude00", "'\"><script>x</script>",
    "=1+1", "2026-02-30", "0001-01-01", "9999-12-31", "2026-11", "2026-13", "99:99",
    "2026-11-25T09:15", "../../etc/passwd", "%", "\u202e", "a" * 5000, "null", "[]", "{}", "true",
    "1;2", "mm", "1 000", "\u2212" + "3", "x-1", "2024-07", "1,2,3",
)  # fmt: skip
# What would end the sweep's own sign-in, take the ground from under it, or seconds each time.
LEFT_OUT = re.compile(r"^/(sign-out|people/\d+(/\w+)?|sign-in|own-password|archive\.zip)$")
SUCCESSIVE = re.compile(r"/\d+")


@dataclass
class Form:
    """One form or one link with a query: where it goes and what it sends."""

    method: str
    path: str
    fields: dict[str, str] = field(default_factory=dict)
    multipart: bool = False


class Pages(HTMLParser):
    """Collects links, forms and their fields from one page."""

    def __init__(self) -> None:
        super().__init__()
        self.links: list[str] = []
        self.forms: list[Form] = []
        self.form: Form | None = None
        self.select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {k: v or "" for k, v in attrs}
        for name in ("href", "hx-get", "data-url", "data-src"):
            if given.get(name, "").startswith(("/", "?")):
                self.links.append(given[name])
        if tag == "form":
            method = given.get("method", "get").upper()
            multipart = "multipart" in given.get("enctype", "")
            self.form = Form(method, given.get("action", ""), multipart=multipart)
            self.forms.append(self.form)
        elif self.form is not None and given.get("name"):
            name = given["name"]
            if tag == "select":
                self.select = name
                self.form.fields.setdefault(name, "")
            elif given.get("type") in {"radio", "checkbox"}:
                if "checked" in given or name not in self.form.fields:
                    self.form.fields[name] = given.get("value", "on")
            else:
                self.form.fields[name] = given.get("value", "")
        elif (
            tag == "option"
            and self.form is not None
            and self.select
            and ("selected" in given or not self.form.fields[self.select])
        ):
            self.form.fields[self.select] = given.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self.form = None
        if tag == "select":
            self.select = ""


def crawl(client: TestClient, app: FastAPI, most: int = 400) -> list[Form]:
    """Return every form and query found from the first page on, one of each shape."""
    waiting = ["/", "/sites", "/review", "/people", "/about", "/audit", "/takes"]
    waiting += [
        re.sub(r"\{[^}]+\}", "1", r.path) for r in routes(app) if "GET" in (r.methods or ())
    ]
    seen: set[str] = set()
    seen_of_shape: Counter[str] = Counter()
    found: dict[tuple[str, str, tuple[str, ...]], Form] = {}
    while waiting and len(seen) < most:
        address = waiting.pop(0)
        parts = urlsplit(address)
        if address in seen or not parts.path.startswith("/") or LEFT_OUT.match(parts.path):
            continue
        seen.add(address)
        seen_of_shape[SUCCESSIVE.sub("/N", parts.path)] += 1
        query = dict(parse_qsl(parts.query, keep_blank_values=True))
        link = Form("GET", parts.path, query)
        found.setdefault(("GET", SUCCESSIVE.sub("/N", parts.path), tuple(sorted(query))), link)
        answer = client.get(address, headers={"accept": "text/html"})
        if "html" not in answer.headers.get("content-type", ""):
            continue
        page = Pages()
        page.feed(answer.text)
        for link_to in page.links:
            whole = parts.path + link_to if link_to.startswith("?") else link_to
            shape = SUCCESSIVE.sub("/N", urlsplit(whole).path)
            if seen_of_shape[shape] < 4:
                waiting.append(whole.split("#")[0])
        for form in page.forms:
            form.path = urlsplit(form.path or parts.path).path or parts.path
            if not LEFT_OUT.match(form.path):
                key = (form.method, SUCCESSIVE.sub("/N", form.path), tuple(sorted(form.fields)))
                found.setdefault(key, form)
    return list(found.values())


def declared(app: FastAPI) -> Iterator[Form]:
    """Give a request for each route with the query parameters it declares."""
    for path, methods in app.openapi()["paths"].items():
        for method, said in methods.items():
            names = [p["name"] for p in said.get("parameters", []) if p["in"] == "query"]
            where = re.sub(r"\{[^}]+\}", "1", path)
            if not LEFT_OUT.match(where):
                yield Form(method.upper(), where, dict.fromkeys(names, ""))


def ask(client: TestClient, form: Form, sent: dict[str, str], accept: str) -> int:
    headers = {"accept": accept}
    if form.method == "GET":
        answer = client.get(form.path, params=sent, headers=headers)
    elif form.multipart:
        files = {"file": ("f.csv", sent.get("file", "").encode(), "text/csv")}
        answer = client.post(form.path, data=sent, files=files, headers=headers)
    else:
        answer = client.request(form.method, form.path, data=sent, headers=headers)
    lacking = [name for name in HEADERS if name not in answer.headers]
    if lacking:
        return 599
    if "[^" in answer.text[:4000] and "pattern" in answer.text[:4000]:
        return 598
    return answer.status_code


def sweep(
    app: FastAPI, client: TestClient, requests: int, seed: int = 5
) -> tuple[Counter[int], list[str]]:
    """Send so many made-up requests; return the counts by status and the lines of the faults."""
    dice = random.Random(seed)
    forms = crawl(client, app) + list(declared(app))
    names = sorted({name for form in forms for name in form.fields})
    counts: Counter[int] = Counter()
    faults: list[str] = []
    for turn in range(requests):
        form = forms[turn % len(forms)] if turn < 3 * len(forms) else dice.choice(forms)
        sent = dict(form.fields)
        for _ in range(dice.choice((1, 1, 1, 2, 3))):
            name = (
                dice.choice(sorted(sent)) if sent and dice.random() < 0.85 else dice.choice(names)
            )
            if dice.random() < 0.1:
                sent.pop(name, None)
            else:
                sent[name] = dice.choice(HOSTILE)
        accept = dice.choice(("text/html", "application/json"))
        try:
            status = ask(client, form, sent, accept)
        except UnicodeEncodeError:
            continue
        counts[status] += 1
        if status >= 500:
            faults.append(f"{status} {form.method} {form.path} {sent} {accept}"[:1500])
    return counts, faults


@cache
def _demo_file() -> Path:
    """Build the demo in a file once a process: it costs more than most of what looks at it."""
    folder = Path(tempfile.mkdtemp())
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    url = f"sqlite:///{folder}/demo.sqlite3"
    migrate(url)
    engine = open_engine(url)
    with Session(engine, expire_on_commit=False) as session:
        demo.build(session)
        session.commit()
    engine.dispose()
    with closing(sqlite3.connect(folder / "demo.sqlite3")) as whole:
        whole.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return folder / "demo.sqlite3"


def steward_of(url: str, folder: Path) -> tuple[FastAPI, TestClient]:
    """Build the demo in an empty database and sign in as its office person made steward."""
    built = _demo_file() if url.startswith("sqlite") else None
    if built is not None:
        shutil.copyfile(built, url.removeprefix("sqlite:///"))
    app = create_app(Settings(data_dir=folder, database_url=url, demo=True))
    if built is None:
        with Session(app.state.engine, expire_on_commit=False) as session:
            demo.build(session)
    client = TestClient(
        app, base_url="http://127.0.0.1", follow_redirects=False, raise_server_exceptions=False
    )
    name, _, password = next(p for p in demo.PEOPLE if p[1] == "steward" or p is demo.PEOPLE[-1])
    answer = client.post("/sign-in", data={"name": name, "password": password})
    assert answer.status_code == 303, answer.text
    return app, client


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--requests", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=5)
    parser.add_argument("--url", default="", help="an EMPTY PostgreSQL database; else SQLite")
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        url = asked.url or f"sqlite:///{folder}/sillbook.sqlite3"
        app, client = steward_of(url, Path(folder))
        _counts, faults = sweep(app, client, asked.requests, asked.seed)
        app.state.engine.dispose()
    for _line in faults:
        pass
    sys.exit(1 if faults else 0)


if __name__ == "__main__":
    main()
