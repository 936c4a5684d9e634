"""Every refusal in one table: who asks what, the status, and what the answer tells the person.

A refusal names field, rule and remedy; as a page it says the same aloud. A new refusal is a row.
"""

import html
import re
from collections.abc import Callable
from dataclasses import dataclass, field

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from app.records.sites import Structure

HTML = {"accept": "text/html"}
REGEX = ("[0-9a-f]", r"^\d", "{0,")
AWAY = ("address", "it is not here", "Go back to the list of sites and open it there.")
STRANGER = ("session", "nobody is signed in", "Sign in and try again.")
SPELLED = ("it is not written as this field is written", "Correct the field and send again.")
NO_DAY = ("a day between 1990 and 2100 is needed", "Such as 2026-11-25.")
NO_MONTH = ("month", "a month is written as year and month", "Such as 2025-07.")


@dataclass(frozen=True)
class Refusal:
    """One request that is refused; `{site}`, `{structure}` and `{other}` stand for made ones."""

    who: str
    method: str
    address: str
    status: int
    says: tuple[str, str, str]
    body: dict[str, str] = field(default_factory=dict)
    page: bool = False
    """Answered as the page it came from, also to who asks for JSON."""

    def __str__(self) -> str:
        told = " ".join(f"{k}={v[:12]}" for k, v in self.body.items() if k in ("key", "name"))
        return f"{self.who} {self.method} {self.address} {told}".strip()


def gets(who: str, status: int, says: tuple[str, str, str], *addresses: str) -> list[Refusal]:
    return [Refusal(who, "GET", address, status, says) for address in addresses]


REFUSALS = [
    *gets("nobody", 401, STRANGER, "/pack", "/about/numbers", "/about/numbers.csv",
          "/sites/{site}/readings", "/sites/{site}/history/chart.json",
          "/sites/{site}/flow", "/sites/{site}/gaugings.csv",
          "/sites/{site}/gaugings.json", "/sites/{site}/changes.csv", "/sites/{site}/changes.json",
          "/sites/{site}/history.csv", "/sites/{site}/gaugings",
          "/sites/{site}/gaugings.csv", "/gaugings/" + "0" * 36),
    *gets("nobody", 404, AWAY, "/static/field/nothing.js", "/static/", "/nothing"),
    *gets("crew", 403, ("role", "this is for office or steward",
                        "Ask somebody of that role, or a steward."),
          "/sites/{site}/loggers", "/sites/{site}/rate-again"),
    *gets("office", 404, AWAY, "/sites/77", "/structures/77/edit", "/plans/999", "/plans/999.json",
          "/level-runs/none", "/level-runs/a%00b", "/structures/999/as-built",
          "/structures/999/install", "/structures/999/commissioning", "/sites/999/plans",
          "/sites/999/levels", "/sites/999/plans/new", "/sites/999/gaugings",
          "/gaugings/" + "0" * 36, "/readings/00000000-0000-0000-0000-000000000000",
          "/sites/{site}/loggers/files/" + "0" * 64),
    *gets("office", 422, ("entry_id", *SPELLED), "/readings/%00", "/readings/nothing",
          "/gaugings/not-an-id"),
    *gets("office", 422, ("site", *SPELLED), "/audit?site=x"),
    *gets("office", 422, ("site_id", "must be less than or equal to 2147483647", SPELLED[1]),
          "/sites/99999999999999999999"),
    *gets("office", 422, ("from", *NO_DAY), "/sites/{site}/gaugings.csv?from=x"),
    *gets("office", 422, ("structure", "this structure is not at this site", "Choose it again."),
          "/sites/{site}/history.json?structure={other}"),
    Refusal("office", "POST", "/sites/{site}/loggers/files", 422,
            ("file", "no file was chosen", "Choose a logger file."), {"a": "b"}),
    Refusal("office", "POST", "/sites", 422,
            ("form", "a field holds more than 100 000 characters", "Shorten it."),
            {"name": "x" * 200_000}),
    *(Refusal("crew", "POST", address, 403, ("role", "this is for office or steward",
                                             "Ask somebody of that role, or a steward."))
      for address in ("/sites", "/sites/{site}", "/structures/{structure}/ratings")),
    Refusal("office", "GET", "/sites/{site}/gaugings?from=yesterday", 422,
            ("from", *NO_DAY), page=True),
    Refusal("crew", "GET", "/structures/{structure}/takes?as_of=never", 422,
            ("as_of", *NO_DAY), page=True),
    *(Refusal("office", "GET", f"/review?month={month}", 422,
              NO_MONTH, page=True)
      for month in ("2026-13", "july", "9999-12", "0000-01")),
    *(Refusal("office", "POST", "/review", 422,
              ("item", "it is no longer in the queue", "Somebody has put it right."),
              {"key": key, "revision": "0", "action": "accept", "text": ""}, page=True)
      for key in ("fault:9:x", "refused:0", "differs:nothing")),
    *(Refusal("office", "POST", "/review", 422,
              ("item", "none is selected", "Select the items that the answer is for."),
              {"action": "accept", "text": "so", **more}, page=True)
      for more in ({}, {"key": ""}, {"key": "", "revision": "x", "row": "x", "part": "x"})),
    Refusal("office", "POST", "/review/undo", 422,
            ("answer", "it is not your last answer any more, or is older than a working day",
             "Show the answered items and open the ones you mean again, with a reason."),
            {"answer": "7"}, page=True),
    Refusal("crew", "POST", "/review/undo", 403,
            ("role", "this is for office or steward",
             "Ask somebody of that role, or a steward."), {"answer": "7"}),
    *(Refusal("office", "POST", f"/structures/{{structure}}/months/{month}", 422,
              NO_MONTH, {"to": "reviewed", "revision": "0"}, page=True)
      for month in ("2024-13", "never", "1950-01")),
    Refusal("office", "POST", "/structures/{structure}/months/2031-01", 422,
            ("month", "holds no record", "Import a logger file first."),
            {"to": "reviewed", "revision": "0"}, page=True),
]  # fmt: skip


def read(page: str) -> str:
    """Return what the alert of a page says."""
    found = re.search(r'role="alert">(.*?)</div>', page, re.DOTALL)
    assert found, page[:500]
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", found[1])))


@pytest.fixture
def askers(client: TestClient, as_crew: TestClient, as_office: TestClient) -> dict[str, TestClient]:
    for one in (as_crew, as_office):
        one._transport.raise_server_exceptions = False  # type: ignore[attr-defined]
    return {"nobody": client, "crew": as_crew, "office": as_office}


def test_every_refusal_says_what_is_wrong_and_what_to_do(
    askers: dict[str, TestClient], a_site: Callable[..., Structure]
) -> None:
    made, other = a_site(), a_site("OTHER")
    for one in REFUSALS:
        address = one.address.format(site=made.site_id, structure=made.id, other=other.id)
        asker = askers[one.who]
        said = asker.request(one.method, address, data=one.body)
        assert said.status_code == one.status, (str(one), said.text[:300])
        shown = asker.request(one.method, address, data=one.body, headers=HTML)
        assert shown.status_code == one.status, (str(one), shown.text[:300])
        if one.page:
            alert = read(shown.text)
            assert one.says[0].replace("_", " ") in alert.lower(), (str(one), alert)
            assert all(words in alert for words in one.says[1:]), (str(one), alert)
        else:
            told = said.json()
            assert (told["field"], told["rule"], told["remedy"]) == one.says, (str(one), told)


def test_a_month_in_the_review_is_answered(
    askers: dict[str, TestClient], a_site: Callable[..., Structure]
) -> None:
    a_site()
    answer = askers["office"].get("/review", params={"month": "2026-07"}, headers=HTML)
    assert answer.status_code == 200
    assert 'role="alert"' not in answer.text


def test_no_regular_expression_is_shown(app: FastAPI, askers: dict[str, TestClient]) -> None:
    office = askers["office"]
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
