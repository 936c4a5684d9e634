"""The pages of the long record: charts keep every peak and gap, figures carry their words."""

import csv
import io
import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import pytest
from fastapi.testclient import TestClient
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from tests.builders.web_record_files import FIRST, HTML, a_file, imported
from tests.conftest import a_reading, send

PEAK = 1234  # the reading that stands out
DAYS = 40


@pytest.fixture
def record(as_office: TestClient, a_site: Callable[..., Structure], session: Session) -> Structure:
    """Give a structure with forty days of record, a gap of two days and one peak in it."""
    structure = a_site()
    session.commit()
    lines = a_file(DAYS, peak_at=PEAK).split(b"\n")
    whole = b"\n".join(lines[: 2 + 96 * 20] + lines[2 + 96 * 22 :])
    imported(as_office, structure.site_id, structure.id or 0, whole)
    return structure


def second(reading: int) -> int:
    """Return the epoch second of a reading: FIRST is on a clock 12 hours ahead of UTC."""
    moment = FIRST.replace(tzinfo=UTC) - timedelta(hours=12) + timedelta(minutes=15 * reading)
    return int(moment.timestamp())


def base(structure: Structure) -> str:
    return f"/structures/{structure.id}"


def test_no_peak_disappears_at_any_width(as_crew: TestClient, record: Structure) -> None:
    full = as_crew.get(
        f"{base(record)}/record/chart.json",
        params={"from_s": second(PEAK) - 900, "to_s": second(PEAK) + 900},
    ).json()["series"][0]
    peak = max(full["high"])
    assert full["full"] is True
    for columns in (10, 37, 200, 900):
        chart = as_crew.get(
            f"{base(record)}/record/chart.json", params={"columns": columns}
        ).json()["series"][0]
        assert max(v for v in chart["high"] if v is not None) == peak
        assert chart["peak"] == {"t": second(PEAK), "value": peak}


def test_a_gap_stays_open_and_is_named(as_crew: TestClient, record: Structure) -> None:
    chart = as_crew.get(f"{base(record)}/record/chart.json", params={"columns": 500}).json()
    (one,) = chart["series"]
    opened = [t for t, v in zip(one["t"], one["mean"], strict=True) if v is None]
    assert any(second(96 * 20) <= t <= second(96 * 22) for t in opened)
    assert "gap" in {band["word"] for band in one["bands"]}


def test_one_reading_with_uncertainty_and_words(as_crew: TestClient, record: Structure) -> None:
    found = as_crew.get(
        f"{base(record)}/record/reading.json", params={"at": second(PEAK) + 100}
    ).json()
    assert found["t"] == second(PEAK)
    assert "±" in found["words"]
    assert "free" in found["words"]
    nothing = as_crew.get(f"{base(record)}/record/reading.json", params={"at": 0}).json()
    assert nothing == {"t": None, "words": "no reading within a day"}


@pytest.mark.parametrize(("days", "word"), [(1, "Head"), (10, "Volume"), (400, "Period")])
def test_the_table_beside_suits_the_width(
    as_crew: TestClient, record: Structure, days: int, word: str
) -> None:
    start = second(96 * 5)
    page = as_crew.get(
        f"{base(record)}/record/table",
        params={"from_s": start, "to_s": start + 86_400 * days},
        headers=HTML,
    ).text
    assert word in page
    assert "±" in page


def test_several_and_years_and_the_season(
    as_crew: TestClient, as_office: TestClient, record: Structure, a_site: Callable[..., Structure]
) -> None:
    other = a_site("OTHER")
    imported(as_office, other.site_id, other.id or 0, a_file(5))
    both = as_crew.get(f"{base(record)}/record/chart.json", params={"with": str(other.id)})
    assert [one["structure_id"] for one in both.json()["series"]] == [record.id, other.id]
    years = as_crew.get(f"{base(record)}/record/years.json").json()
    assert [year["year"] for year in years["years"]] == ["2024/25"]
    season = as_crew.get(f"{base(record)}/record/cumulative.json").json()
    assert season["first"] == "2024-07-01"
    assert season["limit_m3"] is None
    assert sorted(season["volume_m3"]) == season["volume_m3"]
    assert as_crew.get(f"{base(record)}/record", headers=HTML).text.count("data-go=") == 9


def test_the_name_of_a_site_leads_to_its_flow(
    as_office: TestClient, as_crew: TestClient, record: Structure, session: Session
) -> None:
    """Of several structures that with something on record; without one, what to do first."""
    empty = Structure(site_id=record.site_id, name="Weir", family="parshall", dims={"size": "1ft"})
    session.add(empty)
    session.commit()
    address = f"/sites/{record.site_id}/flow"
    for page in ("/sites", "/map", "/today"):
        assert f'href="{address}"' in as_office.get(page, headers=HTML).text, page
    assert f'data-record="{base(record)}/record"' in as_crew.get(address, headers=HTML).text
    other = as_crew.get(f"{address}?structure={empty.id}", headers=HTML).text
    assert "Nothing on record yet" in other
    assert "data-record" not in other
    bare = as_office.post(
        "/sites", data={"code": "NEW", "name": "New", "utc_offset": "+12:00", "head_unit": "mm"}
    ).headers["location"]
    for client, first in (
        (as_office, f'href="{bare}/structures/new"'),
        (as_crew, "office adds it"),
    ):
        page = client.get(f"{bare}/flow", headers=HTML).text
        assert "No structure yet: a flow needs one" in page
        assert first in page
        assert f'href="{bare}/flow"' in page, "the tab is still a way here"


def test_marks_are_a_list_in_parts(
    as_office: TestClient, record: Structure, a_person: Callable[..., Person], session: Session
) -> None:
    nell = a_person("Nell")
    moment = FIRST.replace(tzinfo=UTC)
    entries = [a_reading(record, nell, 0.2, at=moment + timedelta(hours=5 * k)) for k in range(60)]
    send(session, nell, *entries)
    path = f"{base(record)}/record"
    listed = as_office.get(f"{path}/marks.json").json()["rows"]
    assert len(listed) == 60
    assert all(row["uncertainty_pct"] > 0 for row in listed)
    parts = [
        as_office.get(f"{path}/table", params={"part": part}, headers=HTML).text for part in (1, 2)
    ]
    links = [set(re.findall(r'href="(/readings/[^"]+)"', page)) for page in parts]
    assert [len(found) for found in links] == [50, 10]
    assert links[0] | links[1] == {row["page"] for row in listed}
    assert "part=2" in parts[0]


@pytest.mark.parametrize(
    "params",
    [
        {"from_s": 10, "to_s": 5},
        {"columns": 3},
        {"what": "colour"},
        {"with": "99999"},
        {"with": "x"},
        {"from_s": "1e99"},
    ],
)
def test_an_impossible_view_is_refused(
    as_crew: TestClient, record: Structure, params: dict[str, str | int]
) -> None:
    answer = as_crew.get(f"{base(record)}/record/chart.json", params=params)
    assert answer.status_code in {404, 422}
    assert answer.json()["remedy"]


def test_daily_pages_and_files_agree(as_crew: TestClient, record: Structure) -> None:
    page = as_crew.get(f"{base(record)}/daily", headers=HTML)
    assert page.status_code == 200
    sums_page = as_crew.get(f"{base(record)}/totals", headers=HTML)
    assert sums_page.status_code == 200
    assert "Water years" in sums_page.text
    text = as_crew.get(f"{base(record)}/daily.csv").text
    rows = list(csv.DictReader(io.StringIO(text)))
    assert len(rows) == DAYS
    missing = [row for row in rows if row["word"] == "missing"]
    assert missing
    assert all(row["volume_m3"] == "" for row in missing)
    sums = as_crew.get(f"{base(record)}/totals.json", params={"by": "year"}).json()["rows"]
    days = as_crew.get(f"{base(record)}/daily.json").json()["rows"]
    total = sum(day["volume_m3"] or 0.0 for day in days)
    assert sums[0]["volume_m3"] == pytest.approx(total, rel=1e-12)
    series = list(csv.DictReader(io.StringIO(as_crew.get(f"{base(record)}/series.csv").text)))
    assert len(series) == 96 * (DAYS - 2)
    assert datetime.fromisoformat(series[0]["time_utc"]).timestamp() == second(0)
    duration = as_crew.get(f"{base(record)}/duration.json").json()
    assert duration["days"] + duration["left_out"] <= DAYS
    for path in ("daily", "daily.csv", "daily.json", "totals.csv", "duration.json"):
        answer = as_crew.get(f"{base(record)}/{path}", params={"from": "soon"}, headers=HTML)
        assert answer.status_code == 422, path


def test_a_correction_is_previewed_added_and_taken_back(
    as_office: TestClient, as_crew: TestClient, record: Structure
) -> None:
    form = {
        "shape": "offset", "quantity": "head", "from": "2024-08-05T00:00",
        "to": "2024-08-06T00:00", "amount": "0,004", "reason": "knocked",
    }  # fmt: skip
    path = f"{base(record)}/layers"
    page = as_office.get(path, params=form, headers=HTML).text
    assert "largest change of head 4 mm" in page
    chart = as_office.get(f"{path}/preview.json", params=form).json()
    change = [
        after - before
        for before, after in zip(chart["before"]["mean"], chart["after"]["mean"], strict=True)
    ]
    assert max(change) == pytest.approx(0.004)
    before = as_crew.get(f"{base(record)}/series.csv").text
    assert as_crew.post(path, data=form).status_code == 403
    assert as_office.post(path, data={**form, "reason": ""}, headers=HTML).status_code == 422
    assert as_office.post(path, data=form).status_code == 303
    assert as_crew.get(f"{base(record)}/series.csv").text != before
    page = as_office.get(path, headers=HTML).text
    assert "knocked" in page
    found = re.search(rf"{path}/(\d+)/withdraw", page)
    assert found is not None
    layer = found[1]
    refused = as_office.post(f"{path}/{layer}/withdraw", data={"reason": ""}, headers=HTML)
    assert refused.status_code == 422
    assert as_office.post(f"{path}/{layer}/withdraw", data={"reason": "no"}).status_code == 303
    assert as_crew.get(f"{base(record)}/series.csv").text == before
    assert "taken back by Office One" in as_office.get(path, headers=HTML).text


def test_acceptance_bands_are_editable(as_office: TestClient, record: Structure) -> None:
    path = f"{base(record)}/acceptance-bands"
    form = {"over_mm_1": "3", "over_mm_2": "6,5", "over_flow_pct_2": "4", "over_mm_3": "25"}
    assert as_office.post(path, data=form).status_code == 303
    page = as_office.get(f"{base(record)}/layers", headers=HTML).text
    assert 'value="6.5"' in page
    assert as_office.post(path, data={**form, "over_mm_3": "1"}, headers=HTML).status_code == 422


def test_series_json_comes_in_pages_that_together_are_the_series(
    as_office: TestClient, a_site: Callable[..., Structure], session: Session
) -> None:
    structure = a_site()
    session.commit()
    imported(as_office, structure.site_id, structure.id or 0, a_file(80))  # 7,680 readings
    address = f"/structures/{structure.id}/series.json"
    first = as_office.get(address).json()
    assert (len(first["rows"]), first["limit"]) == (5000, 5000)
    second = as_office.get(first["next"]).json()
    assert (len(second["rows"]), second["next"]) == (2680, None)
    lines = as_office.get(f"/structures/{structure.id}/series.csv").text.strip().split("\r\n")
    times = [row["time_utc"] for row in first["rows"] + second["rows"]]
    assert times == [line.split(",")[0] for line in lines[1:]]
    # a range and a limit of one's own are kept from page to page
    begin = "from_s=1722900000&to_s=1723000000&limit=50"
    whole, found = as_office.get(f"{address}?{begin}").json(), []
    while True:
        found += [row["time_utc"] for row in whole["rows"]]
        if whole["next"] is None:
            break
        whole = as_office.get(whole["next"]).json()
    in_csv = as_office.get(f"/structures/{structure.id}/series.csv?{begin}").text
    assert found == [line.split(",")[0] for line in in_csv.strip().split("\r\n")[1:]]
    assert len(found) > 100
    assert as_office.get(f"{address}?limit=0").status_code == 422
    assert as_office.get(f"{address}?limit=1000000").status_code == 422
