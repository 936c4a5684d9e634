"""`sillbook rate` and `sillbook devices` as typed."""

import csv
import io
import json
import math
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from app.commands.rate import devices, rate
from app.hydraulics.families.registry import DEVICES
from app.services.ratings import once as rate_once

cli = typer.Typer(pretty_exceptions_enable=False)
cli.command()(rate)
cli.command()(devices)
run = CliRunner().invoke


def asked(*words: str) -> dict[str, Any]:
    result = run(cli, ["rate", *words, "--json"])
    assert result.exit_code == 0, result.output
    return dict(json.loads(result.stdout))


def dims_of(key: str) -> list[str]:
    return [w for k, v in DEVICES[key].example.items() for w in ("--dim", f"{k}={v}")]


@pytest.mark.parametrize("key", DEVICES)
def test_every_family_answers(key: str) -> None:
    device = DEVICES[key].build(DEVICES[key].example)
    head = 0.5 * (device.head_min_m + device.head_max_m)
    answer = asked(key, *dims_of(key), "--head", f"{head}", "--tailwater", "-0.05")
    assert answer["discharge_m3s"] > 0
    assert answer["uncertainty_pct"] > 0
    assert answer["flow"] == "free"
    assert answer["submergence_ratio"] == 0
    assert isinstance(answer["flags"], list)
    assert all(source["text"] and source["provenance"] for source in answer["sources"])
    assert set(answer["parts"]) == {"device", "dimensions", "head", "submergence"}
    plain = run(cli, ["rate", key, *dims_of(key), "--head", f"{head}"])
    assert plain.exit_code == 0
    assert "give or take" in plain.stdout


def test_long_throat_shows_what_it_found_on_the_way() -> None:
    """Trapezoid b 0.3, m 1, L 0.9, p 0.2 m at 0.3 m: 0.146196 m3/s, H1 0.306811 m (derived)."""
    words = ["throat=trap", "b=0.3", "z=1", "L=0.9", "p=0.2", "approach=trap", "B=0.3", "B_z=1"]
    answer = asked("long_throat", *(w for d in words for w in ("--dim", d)), "--head", "0,3")
    assert answer["discharge_m3s"] == pytest.approx(0.146196, rel=1e-5)
    assert answer["total_head_m"] == pytest.approx(0.306811, rel=1e-5)
    assert answer["coefficient"] == pytest.approx(0.97677, rel=1e-4)
    assert answer["velocity_coefficient"] == pytest.approx(1.0443, rel=1e-4)
    assert answer["froude"] == pytest.approx(0.2104, rel=1e-3)
    assert answer["modular_limit"] == 0.70
    assert set(answer["comparison"]) == {"modular_limit_by_rule", "modular_limit_by_energy"}


def test_drowned_parshall_shows_the_other_methods() -> None:
    answer = asked(
        "parshall", "--dim", "size=1ft", "--head", "0.45", "--tailwater", "0.36",
        "--head-uncertainty", "2 mm",
    )  # fmt: skip
    assert answer["flow"] == "submerged, corrected"
    assert answer["discharge_m3s"] == pytest.approx(0.180714, rel=0.003)
    assert answer["comparison"]["submerged_raw_m3s"] == pytest.approx(0.18033, rel=0.004)
    assert answer["comparison"]["submerged_1936_m3s"] == pytest.approx(0.185113, rel=0.004)
    assert (answer["coefficient"], answer["modular_limit"]) == (0.6909, 0.62)


def test_unknown_figures_are_null() -> None:
    answer = asked(*["long_throat_rect", "--dim", "b=0.3", "--dim", "L=0.6", "--dim", "B=0.6"],
                   "--head", "0.25", "--tailwater", "0.24")  # fmt: skip
    assert answer["discharge_m3s"] is None
    assert answer["uncertainty_pct"] is None
    assert answer["flow"] == "submerged, not determined"


@pytest.mark.parametrize(
    ("words", "field"),
    [
        ("parshall --dim size=1ft --head 0.3 --tailwater 0.4", "tailwater"),
        ("parshall --dim size=1ft", "head"),
        ("parshall --dim size=1ft --head abc", "head"),
        ("parshall --dim size --head 0.3", "dim"),
        ("parshall --dim size=17ft --head 0.3", "size"),
        ("parshall --head 0.3", "size"),
        ("venturi --head 0.3", "family"),
        ("venturi --help-dims", "family"),
        ("long_throat --dim throat=rect --dim L=1 --dim B=1 --head 0.3", "b"),
        ("parshall --dim size=1ft --head 0.3 --head-uncertainty=-1", "head_uncertainty_m"),
        ("parshall --dim size=1ft --csv no_such_file.csv", "csv"),
    ],
)
def test_refusals_name_field_value_rule_and_remedy(words: str, field: str) -> None:
    result = run(cli, ["rate", *words.split(), "--json"])
    assert result.exit_code == 2
    error = json.loads(result.stdout)["error"]
    assert error["field"] == field
    assert error["rule"]
    assert error["remedy"]
    assert error["remedy"] in result.stderr


def test_csv_answers_row_by_row(tmp_path: Path) -> None:
    file = tmp_path / "heads.csv"
    file.write_text("head_m,tailwater_m\n0.3,0.1\nabc,\n0.3,x\n,\n0.2,0.19\n0.2,0.3\n")
    result = run(cli, ["rate", "parshall", "--dim", "size=0.6m", "--csv", str(file)])
    assert result.exit_code == 0
    rows = list(csv.DictReader(io.StringIO(result.stdout)))
    assert [row["flow"] for row in rows] == [
        "free",
        "not rated",
        "not rated",
        "not rated",
        "submerged, corrected",
        "not rated",
    ]
    assert float(rows[0]["discharge_m3s"]) == pytest.approx(0.21759, rel=1e-4)
    assert rows[1]["discharge_m3s"] == ""
    assert "abc" in rows[1]["note"]
    assert rows[5]["flags"] == "tailwater above head"
    as_json = run(cli, ["rate", "parshall", "--dim", "size=0.6m", "--csv", str(file), "--json"])
    assert [row["flow"] for row in json.loads(as_json.stdout)["rows"]] == [
        row["flow"] for row in rows
    ]


def test_csv_without_a_head_column_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "heads.csv"
    file.write_text("level\n0.3\n")
    result = run(cli, ["rate", "parshall", "--dim", "size=1ft", "--csv", str(file)])
    assert result.exit_code == 2
    assert "head_m" in result.stderr


@pytest.mark.parametrize("key", DEVICES)
def test_help_dims_lists_every_dimension(key: str) -> None:
    text = run(cli, ["rate", key, "--help-dims"]).stdout
    listed = json.loads(run(cli, ["rate", key, "--help-dims", "--json"]).stdout)["rows"]
    assert [d["key"] for d in listed] == [d.key for d in DEVICES[key].dimensions]
    for d in DEVICES[key].dimensions:
        assert d.label in text


def test_devices_lists_sources_limits_and_tolerance() -> None:
    cards = json.loads(run(cli, ["devices", "--json"]).stdout)["rows"]
    assert [card["family"] for card in cards] == list(DEVICES)
    text = run(cli, ["devices"]).stdout
    for card in cards:
        assert card["limits"] in text
        assert f"tested within {card['tested_tolerance_pct']:g} %" in text
        assert all(source["text"] in text for source in card["sources"])
    assert "from memory" in {card["weakest_provenance"] for card in cards}


def test_semicolons_bring_decimal_commas(tmp_path: Path) -> None:
    file = tmp_path / "heads.csv"
    file.write_text("head_m;tailwater_m\n0,3;0,1\n0,2;\n", encoding="utf-8-sig")
    result = run(cli, ["rate", "parshall", "--dim", "size=1ft", "--csv", str(file), "--json"])
    rows = json.loads(result.stdout)["rows"]
    assert [row["head_m"] for row in rows] == [0.3, 0.2]
    assert [row["flow"] for row in rows] == ["free", "assumed free"]


def test_far_above_the_range_no_discharge_is_given_and_the_rule_is_named() -> None:
    answer = rate_once.rate_one("parshall", {"size": "1ft"}, "30")
    assert (answer["discharge_m3s"], answer["uncertainty_pct"]) == (None, None)
    assert answer["flow"] == "not rated"
    assert "too far above range for a discharge" in answer["flags"]
    assert answer["head_limit_m"] == pytest.approx(1.5 * 0.76)
    assert "none is given above a head of 1.14 m" in rate_once.say(answer)
    assert answer["sources"][-1]["provenance"] == "common practice"
    near = rate_once.rate_one("parshall", {"size": "1ft"}, "0.9")
    assert near["parts"]["range"] == pytest.approx(50.0 * math.log(0.9 / 0.76))
    assert near["uncertainty_pct"] > 8.0
    inside = rate_once.rate_one("parshall", {"size": "1ft"}, "0.3")
    assert "range" not in inside["parts"]
    rows = rate_once.rate_csv("parshall", {"size": "1ft"}, "head_m\n30\n0.9\n")
    assert [row["discharge_m3s"] is None for row in rows] == [True, False]


def test_an_own_rating_without_a_limit_says_so() -> None:
    dims = {"segments": "1.2,1.62,0,0.05,0.6"}
    free, high = (rate_once.rate_one("user_power", dims, "0.3", t) for t in ("0.1", "0.285"))
    assert (free["flow"], free["flags"]) == ("assumed free", ["modular limit unknown"])
    assert (high["flow"], high["discharge_m3s"]) == ("submerged, not determined", None)
    assert "unknown" in high["drowning"]


@pytest.mark.parametrize("key", DEVICES)
def test_a_dimension_that_is_none_is_refused_in_plain_words(key: str) -> None:
    result = run(cli, ["rate", key, "--dim", "zzz=1", "--head", "0.3", "--json"])
    assert result.exit_code == 2
    rule = json.loads(result.stdout)["error"]["rule"]
    assert rule.startswith("is no dimension of ")
    assert " a own" not in rule
    assert " an " not in rule or rule.split(" an ")[1][0] in "aeio"
