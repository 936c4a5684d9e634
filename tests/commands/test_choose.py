"""`sillbook choose` as typed."""

import json

from typer.testing import CliRunner

from app.cli import cli

WORDS = [
    "choose", "--min", "0.004", "--max", "0.12", "--race", "trap:b=0.8,m=1,slope=0.0005,n=0.03",
    "--bank", "0.6",
]  # fmt: skip
run = CliRunner().invoke


def test_json_is_one_object_with_rows() -> None:
    done = run(cli, [*WORDS, "--json"])
    assert done.exit_code == 0, done.output
    answer = json.loads(done.stdout)
    assert len(answer["rows"]) >= 20
    assert any(not row["suits"] and row["reason"] for row in answer["rows"])
    assert "NaN" not in done.stdout


def test_words_for_a_person() -> None:
    done = run(cli, [*WORDS, "--top", "3"])
    assert done.exit_code == 0, done.output
    assert "  1 suits with care: " in done.output
    assert "more: --top" in done.output
    assert "not a design" in done.output


def test_what_cannot_be_is_refused() -> None:
    done = run(cli, [*WORDS[:-1], "-1"])
    assert done.exit_code == 2
    assert "bank" in done.output
    done = run(cli, [*WORDS[:-1], "-1", "--json"])
    assert json.loads(done.stdout)["error"]["field"] == "bank"
