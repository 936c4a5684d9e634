"""The table of verbs is what the verbs say of themselves, and help imports none of them."""

import json
import re
import subprocess
import sys
from importlib import import_module

import pytest
from typer.testing import CliRunner

from app.cli import VERBS, cli
from tests.paths import ROOT

HEAVY = ("sqlalchemy", "fastapi", "numpy", "pydantic", "app.main")


@pytest.mark.parametrize(("name", "where", "line"), VERBS)
def test_the_line_of_a_verb_is_its_own(name: str, where: str, line: str) -> None:
    module, _, attribute = where.partition(":")
    found = getattr(import_module(f"app.commands.{module}"), attribute)
    said = found.info.help if hasattr(found, "info") else found.__doc__
    assert re.sub(r"\s+", " ", said.strip().split("\n\n")[0]) == line
    done = CliRunner().invoke(cli, [name, "--help"])
    assert done.exit_code == 0, done.output


def test_an_unknown_verb_is_named() -> None:
    done = CliRunner().invoke(cli, ["exprot"])
    assert done.exit_code == 2
    assert "exprot" in done.output


@pytest.mark.parametrize(
    ("words", "light"),
    [
        (["--help"], HEAVY),
        (["rate", "parshall", "--dim", "size=1ft", "--head", "0.15"], HEAVY[:2]),
        (["devices"], HEAVY[:2]),
    ],
)
def test_a_verb_imports_only_what_it_needs(words: list[str], light: tuple[str, ...]) -> None:
    code = (
        "import sys\nfrom app.cli import cli\n"
        f"try:\n    cli({words!r})\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {light!r} if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip().splitlines()[-1] == "[]"


FILE = "no-such-file.csv"


@pytest.mark.parametrize(
    ("words", "field"),
    [
        (["rate", "parshall", "--dim", "size=1ft"], "head"),
        (["rate", "parshall", "--dim", "size=1ft", "--csv", FILE], "csv"),
        (["levels", FILE], "file"),
        (["fit", FILE], "file"),
        (["gauge", "velocity-area", FILE], "file"),
        (["daily", "TANSY", "--data", "nowhere"], "data"),
        (["takes", "TANSY", "--data", "nowhere"], "data"),
        (["rate-again", "TANSY", "--data", "nowhere"], "data"),
        (["export", "TANSY", "--data", "nowhere"], "data"),
        (["import-log", "TANSY", FILE, "--data", "nowhere"], "data"),
    ],
)
def test_a_refusal_is_four_words_and_json_where_asked(words: list[str], field: str) -> None:
    said = CliRunner().invoke(cli, words)
    asked = CliRunner().invoke(cli, [*words, "--json"])
    assert (said.exit_code, asked.exit_code) == (2, 2)
    error = json.loads(asked.stdout)["error"]
    assert set(error) == {"field", "value", "rule", "remedy"}
    assert error["field"] == field
    assert error["rule"] in said.stderr
    assert error["remedy"] in said.stderr


def test_no_verb_opens_or_refuses_by_itself() -> None:
    for path in (ROOT / "app" / "commands").rglob("*.py"):
        text = path.read_text("utf-8")
        if path.stem != "context":
            assert "except SillbookError" not in text, path
            assert "json.dumps" not in text, path
            assert "refuse(" not in text, path


@pytest.mark.parametrize(
    ("words", "field"),
    [
        (["rate", "parshall", "--dim", "size=1ft", "--haed", "0.3"], "options"),
        (["daily"], "site"),
        (["gauge", "volumetric", "--volume-l", "some", "--times", "8"], "volume_l"),
        (["visits-dew"], "options"),
    ],
)
def test_a_mistyped_option_is_told_as_json_where_json_is_asked(
    words: list[str], field: str
) -> None:
    said = CliRunner().invoke(cli, [*words, "--json"])
    assert said.exit_code == 2
    error = json.loads(said.stdout)["error"]
    assert set(error) == {"field", "value", "rule", "remedy"}
    assert error["field"] == field
    assert error["rule"] in said.stderr
    assert CliRunner().invoke(cli, words).exit_code == 2


@pytest.mark.parametrize(
    "words",
    [
        ["rate", "parshall", "--dim", "size=1ft", "--head", "0.3"],
        ["rate", "parshall", "--help-dims"],
        ["devices"],
        ["gauge", "volumetric", "--volume-l", "20", "--times", "8.2,8.4,8.1"],
        ["choose", "--min", "0.004", "--max", "0.12", "--bank", "0.6",
         "--race", "trap:b=0.8,m=1,slope=0.0005,n=0.03"],
    ],
)  # fmt: skip
def test_every_answer_in_json_has_the_shape_of_a_list(words: list[str]) -> None:
    said = CliRunner().invoke(cli, [*words, "--json"])
    answer = json.loads(said.stdout)
    assert list(answer)[:5] == ["name", "columns", "units", "meta", "rows"]
    assert answer["rows"]
    for row in answer["rows"]:
        assert set(row) <= set(answer["columns"])
    assert set(answer["units"]) <= set(answer["columns"])


def test_one_place_prints_json() -> None:
    """What is printed as JSON goes through `show_list` or `show_result`: one shape."""
    context = (ROOT / "app" / "commands" / "context.py").read_text("utf-8")
    assert context.count("json.dumps(") == 3  # an answer, a refusal, a mistyped option
