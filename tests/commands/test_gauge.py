"""`sillbook gauge` and `sillbook fit` on files as people write them."""

import json
from pathlib import Path
from typing import Any

import pytest
import typer
from typer.testing import CliRunner

from app.commands import gauge

cli = typer.Typer()
cli.add_typer(gauge.gauge, name="gauge")
cli.command("fit")(gauge.fit)


def written(tmp_path: Path, text: str, name: str = "file.csv") -> str:
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    return str(path)


def run(*arguments: str) -> tuple[int, dict[str, Any]]:
    done = CliRunner().invoke(cli, [*arguments, "--json"])
    return done.exit_code, json.loads(done.stdout)


# invented sections and traces; discharges by plain arithmetic
SECTION = "0,0,0\n0.5,0.3,0.2\n1,0.5,0.4\n1.5,0.6,0.5\n2,0.5,0.4\n2.5,0.3,0.2\n3,0,0\n"
EC = [120, 120, 135, 210, 320, 290, 220, 170, 142, 128, 122, 120, 120]


@pytest.mark.parametrize(
    ("method", "discharge"), [("mid", 0.41), ("mean", 0.3825), ("mid-section", 0.41)]
)
def test_velocity_area(tmp_path: Path, method: str, discharge: float) -> None:
    path = written(tmp_path, "distance_m,depth_m,v\n" + SECTION)
    code, said = run("gauge", "velocity-area", path, "--method", method)
    assert code == 0
    assert said["discharge_m3s"] == pytest.approx(discharge, rel=1e-9)
    assert said["discharge_l_s"] == pytest.approx(discharge * 1000, rel=1e-9)
    assert said["uncertainty_pct"] > 0
    assert any("over 10 %" in flag for flag in said["flags"])


@pytest.mark.parametrize(
    "heading", ["Distance (m);Depth (m);Velocity (m/s)", "b_m;d_m;v_m_s", "station;depth;vel"]
)
def test_velocity_area_spelt_otherwise(tmp_path: Path, heading: str) -> None:
    rows = SECTION.replace(",", ";").replace(".", ",")
    code, said = run("gauge", "velocity-area", written(tmp_path, f"{heading}\n{rows}"))
    assert (code, round(said["discharge_m3s"], 9)) == (0, 0.41)


def test_points_in_the_depth_walls_and_millimetres(tmp_path: Path) -> None:
    rows = "0,0,,,\n400,200,,0.25,\n800,300,0.4,,0.3\n1200,400,0.42,0.38,0.34\n1600,400,,0.3,\n"
    path = written(tmp_path, "distance_mm,depth_mm,v0.2,v0.6,v0.8\n" + rows)
    code, said = run("gauge", "velocity-area", path, "--edges", "bank,wall")
    assert code == 0
    assert said["discharge_m3s"] == pytest.approx(0.1468, rel=1e-9)  # plain arithmetic
    assert run("gauge", "velocity-area", path)[1]["discharge_m3s"] == pytest.approx(0.1228)


def test_volumetric_with_a_verdict() -> None:
    code, said = run(
        "gauge", "volumetric", "--volume-l=20", "--times=8.2,8.4,8.1,8.3,8.25",
        "--rating-l-s=2.4", "--rating-pct=5",
    )  # fmt: skip
    assert code == 0
    assert said["discharge_l_s"] == pytest.approx(20 / 8.25)
    assert said["verdict"]["word"] == "agrees"
    for typed in ("8,2; 8,4; 8,1; 8,3; 8,25", "8,2 8,4 8,1 8,3 8,25", "8.2 8.4 8.1 8.3 8.25"):
        again = run("gauge", "volumetric", "--volume-l=20", f"--times={typed}")[1]
        assert again["discharge_l_s"] == pytest.approx(said["discharge_l_s"])


@pytest.mark.parametrize(
    "heading",
    ["time_s,conductivity", "Time (s),EC [µS/cm]", "t_s,ec_us_cm", "seconds,uS/cm",
     "elapsed_s,Conductivity (uS/cm)", "time,specific conductance"],
)  # fmt: skip
def test_dilution_by_conductivity(tmp_path: Path, heading: str) -> None:
    rows = "\n".join(f"{5 * i},{x}" for i, x in enumerate(EC))
    path = written(tmp_path, f"{heading}\n{rows}\n")
    code, said = run("gauge", "dilution", path, "--mass-g=500", "--cf=0.5")
    assert code == 0
    assert said["discharge_m3s"] == pytest.approx(500 / (0.5 * 3285), rel=1e-9)


@pytest.mark.parametrize("heading", ["time_s,concentration", "t,conc_mg_l", "Time (s),C (mg/L)"])
def test_dilution_by_concentration(tmp_path: Path, heading: str) -> None:
    path = written(tmp_path, f"{heading}\n0,2\n10,2\n20,12\n30,7\n40,3\n50,2\n")
    code, said = run("gauge", "dilution", path, "--volume-l=5", "--concentration-mg-l=200000")
    assert code == 0
    assert said["discharge_m3s"] == pytest.approx(1000 / 160, rel=1e-9)


def test_dilution_with_a_calibration_minutes_and_two_probes(tmp_path: Path) -> None:
    rows = "\n".join(f"{i / 12},{x},{x - 2}" for i, x in enumerate(EC))
    path = written(tmp_path, f"time_min,conductivity_1,conductivity_2\n{rows}\n")
    points = written(tmp_path, "conc_mg_l,ec\n0,80\n20,120\n40,160\n60,200\n", "calibration.csv")
    code, said = run("gauge", "dilution", path, "--mass-g=500", "--calibration", points)
    assert code == 0
    assert said["factor"] == pytest.approx(0.5)
    assert said["mixed"] is True
    assert said["discharge_m3s"] == pytest.approx(500 / (0.5 * 3285), rel=1e-6)


def test_constant_rate_and_float() -> None:
    code, said = run(
        "gauge", "constant-rate", "--injection-l-s=0.01", "--injected=150000", "--plateau=25",
        "--background=5",
    )  # fmt: skip
    assert (code, round(said["discharge_l_s"], 6)) == (0, 74.9875)
    code, said = run("gauge", "float", "--distance-m=10", "--times=22,23.5,22.5", "--area-m2=0.54")
    assert (code, round(said["discharge_l_s"], 6)) == (0, 202.5)
    assert said["flags"] == ["indication only"]


def test_fit_recovers_an_exact_rating(tmp_path: Path) -> None:
    heads = [0.08, 0.12, 0.17, 0.23, 0.30, 0.38, 0.47]
    rows = "\n".join(f"{h},{1.2 * (h - 0.015) ** 1.55:.9f},5" for h in heads)
    path = written(tmp_path, f"head_m,discharge_m3s,uncertainty_pct\n{rows}\n")
    code, said = run("fit", path)
    assert code == 0
    assert said["coefficient"] == pytest.approx(1.2, rel=1e-5)
    assert said["exponent"] == pytest.approx(1.55, rel=1e-5)
    assert said["cease_to_flow_m"] == pytest.approx(0.015, abs=1e-6)
    assert len(said["gaugings"]) == 7
    assert set(said["intervals"]) == {"coefficient", "exponent", "cease_to_flow_m"}
    litres = "\n".join(f"{1000 * h:.0f},{1200 * (h - 0.015) ** 1.55:.6f}" for h in heads)
    other = run("fit", written(tmp_path, f"h_mm,Q (L/s)\n{litres}\n", "litres.csv"))[1]
    assert other["exponent"] == pytest.approx(1.55, rel=1e-4)
    fixed = run("fit", path, "--cease-to-flow=0.015", "--exponent=1.5")[1]
    assert fixed["exponent"] == 1.5
    assert "exponent" not in fixed["intervals"]


def test_few_gaugings_need_help(tmp_path: Path) -> None:
    path = written(tmp_path, "head_m,discharge_m3s\n.1,.02\n.2,.06\n.3,.11\n.4,.17\n")
    code, said = run("fit", path)
    assert (code, said["error"]["field"]) == (2, "gaugings")
    assert run("fit", path, "--prior-exponent=1.5")[0] == 0
    assert run("fit", path, "--cease-to-flow=0")[0] == 0


@pytest.mark.parametrize(
    ("arguments", "text", "field"),
    [
        (["gauge", "velocity-area"], "distance_m,depth_m,v\n0,0,0\n1,1,1\n0.5,1,1\n2,0,0\n",
         "vertical 3 distance_m"),
        (["gauge", "velocity-area"], "distance_m,v\n0,0\n1,1\n2,0\n", "depth_m"),
        (["gauge", "velocity-area"], "distance_m,depth_m,v\n0,0,0\n1,x,1\n2,0,0\n",
         "vertical 2 depth_m"),
        (["gauge", "dilution", "--mass-g=5"], "time_s,ec\n0,1\n0,2\n1,1\n", "time_s 2"),
        (["gauge", "dilution", "--mass-g=5"], "time_s,ec\n0,1\n1,\n2,1\n", "row 2 conductivity"),
        (["gauge", "dilution", "--mass-g=5", "--background=9"], "time_s,ec\n0,1\n1,3\n2,1\n",
         "background"),
        (["gauge", "dilution"], "time_s,ec\n0,1\n1,3\n2,1\n", "mass_g"),
        (["gauge", "dilution", "--mass-g=5"], "time_s,level\n0,1\n1,3\n", "conductivity"),
        (["fit"], "head_m,discharge_m3s\n.1,0\n.2,1\n.3,2\n.4,3\n.5,4\n.6,5\n",
         "gauging 1 discharge_m3s"),
    ],
)  # fmt: skip
def test_a_bad_file_is_refused_by_row(
    tmp_path: Path, arguments: list[str], text: str, field: str
) -> None:
    code, said = run(*arguments, written(tmp_path, text))
    assert (code, said["error"]["field"]) == (2, field)
    assert said["error"]["remedy"]


def test_bad_options_are_refused() -> None:
    code, said = run("gauge", "volumetric", "--volume-l=20", "--times=8,0")
    assert (code, said["error"]["field"]) == (2, "times_s 2")
    code, said = run("gauge", "volumetric", "--volume-l=20", "--times=8", "--rating-l-s=2")
    assert (code, said["error"]["field"]) == (2, "rating_pct")


def test_plain_text(tmp_path: Path) -> None:
    done = CliRunner().invoke(
        cli, ["gauge", "volumetric", "--volume-l=20", "--times=8.2,8.4,8.1,8.3,8.25",
              "--rating-l-s=3", "--rating-pct=5"]
    )  # fmt: skip
    assert done.stdout.startswith("2.424 L/s ± ")
    assert "fails: differs by -19.2 %" in done.stdout


def drifting(by: float) -> str:
    """Return the trace of `EC` with level readings before and after, drifting straight."""
    values = [120] * 8 + EC[2:-2] + [120] * 16
    return "\n".join(f"{5 * i},{x + by * i / (len(values) - 1):.3f}" for i, x in enumerate(values))


def test_a_drifting_background_is_corrected_and_told(tmp_path: Path) -> None:
    still = run("gauge", "dilution", written(tmp_path, f"time_s,ec\n{drifting(0.0)}\n"),
                "--mass-g=500", "--cf=0.5")[1]  # fmt: skip
    path = written(tmp_path, f"time_s,ec\n{drifting(6.0)}\n", "drift.csv")
    for typed in ([], ["--background=120", "--background-end=126"]):
        code, said = run(
            "gauge", "dilution", path, "--mass-g=500", "--cf=0.5", "--rating-l-s=304.41",
            "--rating-pct=3", *typed,
        )  # fmt: skip
        assert code == 0
        assert said["discharge_l_s"] == pytest.approx(still["discharge_l_s"], rel=0.01)
        assert said["uncertainty_pct"] > still["uncertainty_pct"] + 3.0
        assert any("background drifted" in flag for flag in said["flags"])
        assert said["verdict"]["word"] != "fails"
    before = run("gauge", "dilution", path, "--mass-g=500", "--cf=0.5", "--background=120")[1]
    assert any(flag.startswith("background") for flag in before["flags"])
    assert before["uncertainty_pct"] > still["uncertainty_pct"] + 3.0


def test_constant_rate_asks_for_both_backgrounds() -> None:
    fed = (
        "gauge",
        "constant-rate",
        "--injection-l-s=0.01",
        "--injected=150000",
        "--plateau=25,25,25",
    )
    both = run(*fed, "--background=5", "--background-end=6")[1]
    assert both["discharge_l_s"] == pytest.approx(0.01 * (150000 - 25) / 19.5)
    assert any("background drifted from 5 to 6" in flag for flag in both["flags"])
    assert any("background not read" in flag for flag in run(*fed)[1]["flags"])
