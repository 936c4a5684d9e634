"""`sillbook levels` on files as people write them."""

import json
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from app.commands import levels

cli = typer.Typer()
cli.command()(levels.levels)

# invented run; three set-ups closing 1 mm high by plain arithmetic
ROWS = """1,BM1,1.342,,
1,race floor,,2.271,
1,crest A,,2.118,
1,crest B,,2.119,
1,crest C,,2.117,
1,crest D,,2.120,
1,staff mark,,1.619,
1,TP1,,,1.507
2,TP1,1.455,,
2,TP2,,,1.633
3,TP2,1.721,,
3,BM1,,,1.377
"""


def written(tmp_path: Path, text: str, encoding: str = "utf-8") -> str:
    path = tmp_path / "run.csv"
    path.write_bytes(text.encode(encoding))
    return str(path)


def run(*arguments: str) -> tuple[int, dict[str, Any], str]:
    done = CliRunner().invoke(cli, [*arguments, "--json"])
    return done.exit_code, json.loads(done.stdout), done.stderr


def test_the_rule_of_distance_shares_by_the_lengths_of_the_sights(tmp_path: Path) -> None:
    # legs of 40, 60 and 100 m, 10 mm too high: -2, -5 and -10 mm (surveying texts, from memory)
    book = (
        "point,bs,is,fs,distance_m\nA,1.5,,,15\nT1,,,0.5,25\nT1,1.2,,,30\nT2,,,2.2,30\n"
        "T2,1.6,,,50\nB,,,1.0,50\n"
    )
    path = written(tmp_path, book)
    shared = ("--start-rl", "100", "--close-rl", "100.59", "--rule=distance")
    code, said, _ = run(path, *shared)
    assert (code, said["shared_by"]) == (0, "distance")
    adjusted = {name: each["rl_adjusted"] for name, each in said["points"].items()}
    assert adjusted == pytest.approx({"A": 100.0, "T1": 100.998, "T2": 99.995, "B": 100.59})
    assert said["limit_mm"] == pytest.approx(12 * 0.2**0.5)
    bare = written(tmp_path, "\n".join(line.rsplit(",", 1)[0] for line in book.splitlines()))
    code, said, _ = run(bare, *shared, "--distance-km=0.2")
    assert (code, said["shared_by"]) == (0, "set-up")
    assert any("shared equally by set-up" in word for word in said["words"])
    assert run(bare, *shared)[1]["error"]["field"] == "distance_km"


def test_the_worked_run_comes_out_in_full(tmp_path: Path) -> None:
    path = written(tmp_path, "setup,point,bs,is,fs\n" + ROWS)
    roles = [f"--role=corners=crest {corner}" for corner in "ABCD"]
    code, said, _ = run(
        path, "--start-rl", "100", *roles, "--role=staff_mark=staff mark", "--staff-mark-m=0.5"
    )
    assert code == 0
    assert (said["sum_bs"], said["sum_fs"], said["misclosure_mm"]) == (4.518, 4.517, 1.0)
    assert said["limit_mm"] == pytest.approx(1.5837873, rel=1e-7)  # USGS TM 3-A19, read
    assert said["within_limit"] is True
    assert said["points"]["crest A"]["rl"] == 99.224
    assert said["points"]["TP2"]["rl_adjusted"] == pytest.approx(99.6563333333)
    assert [row["point"] for row in said["reduced_levels"]][-1] == "BM1"
    assert said["results"]["crest_rl_m"] == 99.2235
    assert said["results"]["zero_minus_crest_m"] == -0.0005
    assert said["results"]["corner_word"] == "outside 2 mm"


@pytest.mark.parametrize(
    ("heading", "rows", "encoding"),
    [
        ("Set-up;Point;Back sight;Inter sight;Fore sight", ROWS.replace(",", ";"), "utf-8-sig"),
        ("SETUP\tStation\tBS (m)\tIS (m)\tFS (m)", ROWS.replace(",", "\t"), "utf-16"),
        ("station,back,inter,fore", "\n".join(r[2:] for r in ROWS.splitlines()), "utf-8"),
        ("remark,setup,point,bs,is,fs", "\n".join("x," + r for r in ROWS.splitlines()), "cp1252"),
    ],
)
def test_other_spellings_mean_the_same(
    tmp_path: Path, heading: str, rows: str, encoding: str
) -> None:
    code, said, _ = run(written(tmp_path, f"{heading}\n{rows}", encoding), "--start-rl=100")
    assert code == 0
    assert said["misclosure_mm"] == 1.0


def test_decimal_commas_and_feet(tmp_path: Path) -> None:
    text = "point;bs;is;fs\nRM1;4,212;;\ngauge;;6,550;\nRM1;;;4,219\n"
    code, said, _ = run(written(tmp_path, text), "--start-rl=20", "--unit=ft")
    assert code == 0
    assert said["points"]["gauge"]["rl"] == 17.662
    assert said["misclosure"] == -0.007
    assert said["misclosure_mm"] == pytest.approx(-2.1336)
    assert said["within_limit"] is False


def test_a_level_in_the_file_or_an_assumed_one(tmp_path: Path) -> None:
    known = "point,bs,is,fs,rl\nBM,1.0,,,50\nBM,,,1.0,\n"
    assert run(written(tmp_path, known))[1]["points"]["BM"]["rl"] == 50.0
    unknown = "point,bs,is,fs\nBM,1.0,,\nBM,,,1.0\n"
    said = run(written(tmp_path, unknown))[1]
    assert "level of the first point not given: 100 assumed" in said["words"]


def test_own_limit_and_plain_text(tmp_path: Path) -> None:
    path = written(tmp_path, "setup,point,bs,is,fs\n" + ROWS)
    assert run(path, "--rule=0.5")[1]["within_limit"] is False
    assert run(path, "--rule=distance", "--distance-km=0.09")[1]["limit_mm"] == 3.6
    done = CliRunner().invoke(cli, [path, "--start-rl=100", "--role=corners=crest A"])
    assert done.exit_code == 0
    assert "misclosure +1.00 mm, within the limit 1.58 mm" in done.stdout
    assert "crest rl m: 99.224" in done.stdout


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ("setup,point,bs,is,fs\n1,BM,1.3,,\n1,x,,two,\n", "row 2 is"),
        ("setup,point,bs,is,fs\n1,x,,2.0,\n", "row 1 is"),
        ("setup,bs,is,fs\n1,1.3,,\n", "point"),
        ("a,b\n1,2\n", "file"),
        ("setup,point,bs,is,fs\n", "file"),
        ("", "file"),
        ("point,bs,is,fs\nBM,1.0,,\nBM,,,1342\n", "row 2 fs"),
    ],
)
def test_a_bad_file_is_refused_by_row(tmp_path: Path, text: str, field: str) -> None:
    code, said, stderr = run(written(tmp_path, text))
    assert code == 2
    assert said["error"]["field"] == field
    assert said["error"]["remedy"] in stderr


def test_bad_options_and_missing_files_are_refused(tmp_path: Path) -> None:
    path = written(tmp_path, "setup,point,bs,is,fs\n" + ROWS)
    assert run(path, "--unit=yd")[1]["error"]["field"] == "unit"
    assert run(path, "--rule=generous")[1]["error"]["field"] == "rule"
    assert run(path, "--role=corners")[1]["error"]["field"] == "role"
    assert run(path, "--role=corners=moon")[1]["error"]["value"] == "moon"
    assert run(str(tmp_path / "none.csv"))[1]["error"]["field"] == "file"
    (tmp_path / "picture.csv").write_bytes(b"\x89PNG\x00\x00")
    assert run(str(tmp_path / "picture.csv"))[1]["error"]["rule"] == "is no text file"
