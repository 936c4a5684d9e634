"""A form that breaks several rules says all of them, each beside its box, and keeps the rest."""

import re
from collections.abc import Callable
from html.parser import HTMLParser

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.errors import BadInput
from app.language import forms
from app.records.sites import Structure

HTML = {"accept": "text/html"}
JSON = {"accept": "application/json"}

# address, what is typed, the boxes that are wrong
FORMS: tuple[tuple[str, dict[str, str], set[str]], ...] = (
    (
        "/sites",
        {"name": "", "code": "a b", "utc_offset": "ninety", "latitude": "95", "head_unit": "mm"},
        {"name", "code", "utc_offset", "latitude"},
    ),
    (
        "/sites/1/structures",
        {"name": "", "family": "parshall", "pond_area_m2": "many", "valid_from": "soon"},
        {"name", "pond_area_m2", "valid_from", "size"},
    ),
    ("/structures/1/ratings", {"family": "parshall"}, {"valid_from", "reason", "size"}),
    (
        "/structures/1/gauge-zeros",
        {"crest_rl_m": "high", "zero_rl_m": "", "valid_from": "2026-01-01T00:00"},
        {"crest_rl_m", "zero_rl_m", "reason"},
    ),
    (
        "/structures/1/takes",
        {"kind": "daily", "amount": "lots", "valid_from": "", "season_begins": "99-99"},
        {"amount", "valid_from", "season_begins"},
    ),
    (
        "/structures/1/race-capacity",
        {"kind": "head", "amount": "", "valid_from": "once"},
        {"amount", "valid_from", "reason"},
    ),
    (
        "/structures/1/layers",
        {"shape": "offset", "from": "then", "to": "", "amount": "some"},
        {"from", "to", "amount", "reason"},
    ),
    (
        "/structures/1/acceptance-bands",
        {"over_mm_1": "3", "over_mm_2": "", "over_flow_pct_1": "many"},
        {"over_mm_2", "over_mm_3", "over_flow_pct_1"},
    ),
    (
        "/sites/1/plans",
        {"name": "", "q_min_l_s": "", "q_max_l_s": "much", "floor_rl_m": "", "permit_l_s": "x"},
        {"name", "q_min_l_s", "q_max_l_s", "floor_rl_m", "permit_l_s"},
    ),
    (
        "/structures/1/as-built",
        {"m.a.1": "wide", "at": "then", "instrument": "tape"},
        {"m.a.1", "at"},
    ),
    (
        "/sites/1/visit-plans",
        {"valid_from": "soon", "interval_days": "few", "season_begins": "99-99", "round": "North"},
        {"valid_from", "interval_days", "season_begins", "season_ends", "reason"},
    ),
    (
        "/equipment",
        {"kind": "level", "described": "", "interval_days": "often", "since": "then"},
        {"described", "interval_days", "place", "since"},
    ),
    (
        "/structures/1/takes/1/end",
        {"last_day": "never", "reason": ""},
        {"last_day", "reason"},
    ),
    (
        "/structures/1/commissioning",
        {"fit_from": "x", "signed_name": ""},
        {"fit_from", "signed_name"},
    ),
)
BOXES = {
    "capacity-from": "valid_from",
    "capacity-amount": "amount",
    "capacity-reason": "reason",
}  # where two forms of a page have the same field


class Attributes(HTMLParser):
    """Finds attributes that ran together, and boxes that name a fault without being marked."""

    def __init__(self) -> None:
        super().__init__()
        self.glued: set[str] = set()
        self.described_without_mark: set[str] = set()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        self.glued |= {name for name in found if re.search(r"\w(aria-|required)", name)}
        if found.get("aria-describedby", "").endswith("-wrong") and "aria-invalid" not in found:
            self.described_without_mark.add(found.get("name", ""))


@pytest.mark.parametrize(("path", "typed", "wrong"), FORMS, ids=[path for path, _, _ in FORMS])
def test_every_fault_is_told_at_once(
    as_office: TestClient,
    a_site: Callable[..., Structure],
    session: Session,
    path: str,
    typed: dict[str, str],
    wrong: set[str],
) -> None:
    a_site()
    session.commit()
    limit = {"kind": "rate", "amount": "0.1", "valid_from": "2026-01-01"}
    if path.endswith("/end"):
        assert as_office.post("/structures/1/takes", data=limit, headers=HTML).status_code == 303
    answer = as_office.post(path, data=typed, headers=HTML)
    assert answer.status_code == 422
    ids = re.findall(r'id="([\w.-]+)-wrong"', answer.text)
    shown = {BOXES.get(box, box) for box in ids}
    assert wrong == shown
    assert len(ids) == len(wrong), "a fault stands beside its own box only"
    reader = Attributes()
    reader.feed(answer.text)
    assert reader.glued == set()
    assert reader.described_without_mark == set()
    for name, text in typed.items():
        if text and name not in wrong and name != "shape":
            assert f'"{text}"' in answer.text or f">{text}<" in answer.text, name
    said = as_office.post(path, data=typed, headers=JSON).json()
    told = {said["field"], *(fault["field"] for fault in said.get("more", []))}
    assert wrong <= told


def test_together_gives_all_values_or_all_faults() -> None:
    form = {"a": "1", "b": "2"}

    def box(name: str) -> Callable[[], float]:
        return lambda: forms.needed(form, name, low=0, high=5)

    assert forms.together(a=box("a"), b=box("b")) == {"a": 1.0, "b": 2.0}
    with pytest.raises(BadInput) as caught:
        forms.together(a=box("a"), c=box("c"), rest=lambda: forms.together(d=box("d")))
    assert [fault.field for fault in caught.value.faults] == ["c", "d"]
    assert caught.value.at("d") is caught.value.faults[1]
    assert caught.value.at("a") is None
