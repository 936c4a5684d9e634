"""The trail in sentences: each names who, what was done, and the thing by its name."""

import ast
from datetime import UTC, datetime
from typing import Any

import pytest

from app.paths import TEMPLATES
from app.services.review.sentences import SENTENCES, sentence, the
from app.services.review.trail import AuditLine

ROOT = TEMPLATES.parent


def a_line(action: str, subject: str = "structure", **more: Any) -> AuditLine:
    usual: dict[str, Any] = {
        "id": 1, "at": datetime(2026, 1, 1, tzinfo=UTC), "by": "Rudd", "action": action,
        "subject": subject, "subject_id": "2", "site_id": 2, "site_code": "MARROW",
        "utc_offset_min": 720, "before": None, "after": None, "reason": "",
        "named": "Long-throated flume",
    }  # fmt: skip
    return AuditLine(**usual | more)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (
            a_line(
                "month approved",
                before={"month": "2025-09", "state": "reviewed"},
                after={"month": "2025-09", "state": "approved"},
            ),
            "Rudd approved September 2025 of the long-throated flume",
        ),
        (
            a_line("month opened again", after={"month": "2025-09"}, named="Tansy weir"),
            "Rudd opened September 2025 of Tansy weir again",
        ),
        (
            a_line("logger file imported", "logger", after={"file": "a.csv", "readings": 1},
                   named="Logger at long-throated flume"),
            "Rudd took in 1 reading from a.csv, Logger at long-throated flume",
        ),
        (
            a_line("logger file imported", "logger", after={"file": "a.csv", "readings": 17292},
                   named="No 3"),
            "Rudd took in 17,292 readings from a.csv, No 3",
        ),
        (
            a_line("changed", before={"name": "A", "tailwater_gauge": False},
                   after={"name": "B", "tailwater_gauge": True}, named="B"),
            "Rudd changed the name and tailwater gauge of B",
        ),
        (
            a_line("rating added", after={"valid_from": "2024-12-01T22:15:00+00:00"}),
            "Rudd gave the long-throated flume a rating from 2024-12-02 10:15 UTC+12:00",
        ),
        (
            a_line("added", "person", after={"name": "Tamsin", "role": "crew"}, named="Tamsin"),
            "Rudd added the person Tamsin as crew",
        ),
        (
            a_line("new epoch", "server", by="the server", subject_id="1", named=""),
            "The server new epoch: the server",
        ),
    ],
)  # fmt: skip
def test_a_line_is_a_sentence_that_names_the_thing(line: AuditLine, said: str) -> None:
    assert sentence(line, line.utc_offset_min) == said


def test_facts_of_an_older_release_may_be_missing_or_odd() -> None:
    for (action, subject), _ in SENTENCES.items():
        for facts in (None, {}, {"month": "x", "amount": "much", "valid_from": "Tsoon"}):
            line = a_line(action, subject or "structure", after=facts, named="")
            said = sentence(line, 720)
            assert said.startswith("Rudd ")
            assert "None" not in said
    assert the(a_line("x", named="Parshall at the ford")) == "Parshall at the ford"


def written_actions() -> set[str]:
    """Return every action that the services write into the trail as a plain string."""
    found = set()
    for path in (ROOT / "app").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            name = getattr(getattr(node, "func", None), "id", "")
            if isinstance(node, ast.Call) and name == "write_audit" and len(node.args) > 2:
                action = node.args[2]
                if isinstance(action, ast.Constant):
                    found.add(str(action.value))
    return found


def test_every_action_has_its_sentence() -> None:
    known = {action for action, _ in SENTENCES}
    # the new epoch of a restored backup is the server's own and of no site
    assert written_actions() - known == {"new epoch"}
    assert len(written_actions()) > 10
