"""Which flume: the page, its lists, and a plan made of a row that shows the row's figures."""

import json
import re
from collections.abc import Callable
from typing import Any

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.commands.choose import choose as verb
from app.records.sites import Structure
from app.services.plans.choosing.tables import CHOICE_COLUMNS

ASKED = {
    "q_min_l_s": "4", "q_max_l_s": "120", "race_width_m": "0,8", "race_slope_m": "1",
    "bed_slope": "0.0005", "roughness": "0.03", "bank_m": "0.6",
}  # fmt: skip


@pytest.fixture
def place(session: Session, a_site: Callable[..., Structure]) -> str:
    site_id = a_site().site_id
    session.commit()
    return f"/sites/{site_id}/which-flume"


def printed(capsys: pytest.CaptureFixture[str], **more: Any) -> dict[str, Any]:
    race = "trap:b=0.8,m=1,slope=0.0005,n=0.03"
    usual = {"tail": "", "rise": "", "weed": "", "head_uncertainty": "0.003", "fish": False,
             "debris": False, "carried": False, "top": 25, "as_json": True}  # fmt: skip
    verb(least="0.004", most="0.12", race=race, bank="0.6", **(usual | more))
    answer: dict[str, Any] = json.loads(capsys.readouterr().out)
    return answer


def test_page_list_and_command_are_one_answer(
    as_crew: TestClient, place: str, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = as_crew.get(f"{place}.json", params=ASKED).json()["rows"]
    told = printed(capsys)["rows"]
    assert len(rows) == len(told) >= 20
    for row, said in zip(rows, told, strict=True):
        for column in CHOICE_COLUMNS:
            assert row[column.key] == said.get(column.key), column.key
    shown = as_crew.get(place, params=ASKED)
    assert shown.status_code == 200
    assert shown.text.count("<tr>") == len(rows) + 1
    assert "style=" not in shown.text
    for row in rows:
        if row["verdict"] == "does not suit":
            assert row["reason"]
            assert row["reason"].split("; ")[0] in shown.text.replace("&#39;", "'")
    csv = as_crew.get(f"{place}.csv", params=ASKED).text
    assert len(csv.splitlines()) == len(rows) + 1
    ids = re.findall(r'id="([^"]+)"', shown.text)
    assert len(ids) == len(set(ids))
    assert "<svg" in shown.text


def test_empty_form_and_errors_stand_beside_their_box(as_crew: TestClient, place: str) -> None:
    empty = as_crew.get(place)
    assert empty.status_code == 200
    assert "All structures tried" not in empty.text
    for change, box in (
        ({"bank_m": "low"}, "bank_m"),
        ({"q_max_l_s": "3"}, "q_max_l_s"),
        ({"race_width_m": "0", "race_slope_m": "0"}, "race_width_m"),
        ({"bed_slope": ""}, "tail_depths"),
        ({"tail_depths": "20"}, "tail_depths"),
    ):
        wrong = as_crew.get(place, params=ASKED | change)
        assert wrong.status_code == 422, change
        assert f'id="{box}-wrong"' in wrong.text, change
        assert as_crew.get(f"{place}.json", params=ASKED | change).status_code == 422


def test_sorted_by_a_column(as_crew: TestClient, place: str) -> None:
    rows = as_crew.get(f"{place}.json", params=ASKED | {"sort": "crest"}).json()["rows"]
    crests = [row["crest_m"] for row in rows if row["crest_m"] is not None]
    assert crests == sorted(crests)
    assert all(row["crest_m"] is None for row in rows[len(crests) :])
    assert 'aria-sort="ascending"' in as_crew.get(place, params=ASKED | {"sort": "crest"}).text


def test_wishes_are_told_with_their_reason(as_crew: TestClient, place: str) -> None:
    plain = as_crew.get(f"{place}.json", params=ASKED).json()["rows"]
    wish = {"fish": "yes", "debris": "yes", "carried": "yes"}
    rows = as_crew.get(f"{place}.json", params=ASKED | wish).json()["rows"]
    before = {(r["family"], r["size"]): r for r in plain}
    for row in rows:
        was = before[row["family"], row["size"]]
        if row["fall_m"] is None:
            assert row["reason"] == was["reason"]
            continue
        assert ("fish:" in row["reason"]) == (row["fall_m"] > 0.10)
        assert ("carrying:" in row["reason"]) == (row["persons"] is None or row["persons"] > 4)
        assert "fish:" not in was["reason"]
    assert any("debris:" in row["reason"] for row in rows)


@pytest.mark.parametrize("floor", ["", "98.4"])
def test_a_plan_made_of_a_row_shows_the_rows_figures(
    as_office: TestClient, place: str, floor: str, database_url: str
) -> None:
    asked = ASKED | {"floor_rl_m": floor}
    told = as_office.get(f"{place}.json", params=asked).json()["rows"]
    worked = [row for row in told if row["head_least_m"] is not None]
    families = {row["family"]: row for row in reversed(worked)}
    # the sums are the same on either engine: PostgreSQL meets every fourth family
    every = 1 if database_url.startswith("sqlite") else 4
    for row in list(families.values())[::every]:
        rank = {"rank": str(row["rank"])}
        sent = as_office.get(f"{place}/plan", params=asked | rank, follow_redirects=False)
        assert sent.status_code == 303
        form = as_office.get(sent.headers["location"])
        assert form.status_code == 200
        boxes = dict(re.findall(r'name="([^"]+)"\s+type="text"\s+value="([^"]*)"', form.text))
        chosen = re.findall(r'<option value="([^"]*)" selected', form.text)
        areas = dict(re.findall(r'<textarea id="(\w+)"[^>]*>\n([^<]*)<', form.text))
        posted = boxes | areas | {"candidate_1": chosen[0]}
        made = as_office.post(form.url.path.removesuffix("/new"), data=posted)
        assert made.status_code == 303, made.text
        one = as_office.get(f"{made.headers['location']}.json").json()["result"]["candidates"][0]
        assert one["crest_above_floor_m"] == pytest.approx(row["crest_m"], abs=1e-6), row
        ends = [one["flows"][0]["head_m"], one["flows"][-1]["head_m"]]
        assert ends == pytest.approx([row["head_least_m"], row["head_most_m"]], abs=1e-6), row


def test_a_rank_that_is_none_is_refused(as_crew: TestClient, place: str) -> None:
    answer = as_crew.get(f"{place}/plan", params=ASKED | {"rank": "x"})
    assert answer.status_code == 422
    assert "rank" in answer.text
