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
    for path in (ROOT / "app" / "commands").glob("*.py"):
        text = path.read_text("utf-8")
        if path.stem != "context":
            assert "except SillbookError" not in text, path
            assert "json.dumps" not in text, path
            assert "refuse(" not in text, path
