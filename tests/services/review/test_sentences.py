"""The trail in sentences: each names who, what was done, and the thing by its name."""

import ast
from datetime import UTC, datetime
from importlib import import_module
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
            "The server began anew after a restore: phones offer their last 30 days again",
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


# Every change that the services write: action, subject, facts before and after, what it says.
ITEM = {
    "kind": "drowned stretch", "from": "2025-02-14T17:00:00+00:00",
    "to": "2025-02-18T22:00:00+00:00",
}  # fmt: skip
AT, FLUME = "2025-02-15 05:00 to 2025-02-19 10:00 UTC+12:00", "the long-throated flume"
RAMP = {"shape": "ramp", "quantity": "head", "from": ITEM["from"], "to": ITEM["to"]}
DAY = {"valid_from": "2024-12-01T22:15:00+00:00"}
TOLD: list[tuple[str, str, dict[str, Any] | None, dict[str, Any] | None, str]] = [
    ("month reviewed", "structure", {"month": "2025-09"}, {"month": "2025-09"},
     f"reviewed September 2025 of {FLUME}"),
    ("month approved", "structure", {"month": "2025-09"}, {"month": "2025-09"},
     f"approved September 2025 of {FLUME}"),
    ("month opened again", "structure", {"month": "2025-09"}, {"month": "2025-09"},
     f"opened September 2025 of {FLUME} again"),
    ("item accepted", "structure", ITEM, ITEM, f"accepted a drowned stretch of {FLUME}, {AT}"),
    ("item returned", "structure", ITEM, ITEM, f"returned a drowned stretch of {FLUME}, {AT}"),
    ("item commented on", "structure", ITEM, ITEM,
     f"commented on a drowned stretch of {FLUME}, {AT}"),
    ("item opened again", "structure", ITEM, ITEM,
     f"opened a drowned stretch of {FLUME}, {AT} again"),
    ("answer to an item taken back", "structure", ITEM, ITEM,
     f"took back the answer to a drowned stretch of {FLUME}, {AT}"),
    ("item accepted", "site", ITEM | {"kind": "file to import"}, ITEM | {"kind": "file to import"},
     f"accepted a file to import at {FLUME}, {AT}"),
    ("item returned", "item", ITEM | {"kind": "entry", "to": ITEM["from"]}, None,
     "returned an entry at no site, 2025-02-15 05:00 UTC+12:00"),
    ("added", "site", None, {"name": "Tansy"}, "added the site Long-throated flume"),
    ("added", "structure", None, {"name": "Flume"}, "added the structure Long-throated flume"),
    ("added", "instrument", None, {"kind": "staff"}, "added the instrument Long-throated flume"),
    ("added", "person", None, {"role": "crew"}, "added the person Long-throated flume as crew"),
    ("changed", "site", {"utc_offset_min": 720}, {"utc_offset_min": 780},
     f"changed the utc offset of {FLUME} from 720 min to 780 min"),
    ("changed", "structure", {"pond_area_m2": None}, {"pond_area_m2": 120.0},
     f"changed the pond area of {FLUME} from nothing to 120 m²"),
    ("changed", "instrument", {"serial": "7", "note": ""}, {"serial": "8", "note": "new"},
     f"changed the serial and note of {FLUME}"),
    ("changed", "person", {"role": "crew", "active": True},
     {"role": "office", "active": True, "password": "kept"},
     f"made {FLUME} office, was crew"),
    ("set", "preference", {"water_year": [7, 1]}, {"water_year": [10, 1]},
     "set the water year for everybody"),
    ("rating added", "structure", None, DAY,
     f"gave {FLUME} a rating from 2024-12-02 10:15 UTC+12:00"),
    ("gauge zero added", "structure", None, DAY,
     f"gave {FLUME} a gauge zero from 2024-12-02 10:15 UTC+12:00"),
    ("rated again", "site", None, {"why": "a new zero"}, f"rated {FLUME} again"),
    ("intended design chosen", "structure", None, {"candidate": "Cutthroat flume, 3 ft"},
     f"chose the design of {FLUME}: Cutthroat flume, 3 ft"),
    ("commissioning sheet signed", "structure", None, {"fit_from": DAY["valid_from"]},
     f"signed the commissioning sheet of {FLUME}, fit from 2024-12-02 10:15 UTC+12:00"),
    ("race capacity stated", "structure", None, {"kind": "flow", "amount": 0.25},
     f"stated what the race carries at {FLUME}: 250 L/s at bank-full"),
    ("race capacity stated", "structure", None, {"kind": "head", "amount": 0.35},
     f"stated what the race carries at {FLUME}: a head of 0.3500 m at bank-full"),
    ("race capacity stated", "structure", None, {"kind": "unknown", "amount": None},
     f"stated that what the race carries at {FLUME} is not known any more"),
    ("limit added", "structure", None, {"kind": "rate", "amount": 0.125, "unit": "m3/s"},
     f"added the rate limit of 125 L/s at {FLUME}"),
    ("limit ended", "structure", {"kind": "season", "amount": 100000, "unit": "m3"},
     {"kind": "season", "amount": 100000, "unit": "m3", "valid_to": "2025-06-30"},
     f"ended the season limit of 100\u202f000 m³ at {FLUME}, last day 2025-06-30"),
    ("correction added", "structure", None, RAMP,
     f"laid a correction (ramp) over the head of {FLUME}, {AT}"),
    ("correction taken back", "structure", RAMP, None,
     f"took back a correction (ramp) over the head of {FLUME}, {AT}"),
    ("logger added", "structure", None, {"name": "No 3"}, f"added the logger No 3 to {FLUME}"),
    ("logger file imported", "logger", None, {"file": "a.csv", "readings": 1},
     f"took in 1 reading from a.csv, {FLUME}"),
    ("logger file taken back", "logger", {"file": "a.csv"}, None,
     f"took back the file a.csv, {FLUME}"),
    ("logger file discarded", "site", {"file": "a.csv"}, None,
     f"discarded the file a.csv at {FLUME}"),
    ("logger file taken up again", "site", None, {"file": "a.csv"},
     f"took up the file a.csv at {FLUME} again"),
    ("instrument named", "entry", {"instrument_id": None}, {"instrument_id": 4},
     f"said that instrument 4 was used for {FLUME}"),
    ("instrument named", "entry", {"instrument_id": 4}, {"instrument_id": None},
     f"said that no instrument of the register was used for {FLUME}"),
    ("calibrated", "instrument", None, {"on_day": "2024-09-17", "outcome": "adjusted"},
     f"noted a calibration of {FLUME} of 2024-09-17: adjusted, then fit for use"),
    ("calibration corrected", "instrument", {"on_day": "2024-09-17"}, {"on_day": "2024-09-18"},
     f"corrected a calibration of {FLUME} of 2024-09-18"),
    ("calibration taken back", "instrument", {"on_day": "2024-09-17"}, None,
     f"took back a calibration of {FLUME} of 2024-09-17"),
    ("moved", "instrument", None, {"place": "store", "words": "shelf 2", "since": "2025-01-02"},
     f"noted that {FLUME} is in a store, shelf 2, from 2025-01-02"),
    ("line added to the map", "race_line", None, {"name": "Upper race", "lines": 1},
     "drew Upper race on the map, 1 line"),
    ("line taken off the map", "race_line", {"name": "Upper race"}, None,
     "took Upper race off the map"),
    ("visits planned", "site", None, {"interval_days": 14},
     f"planned the visits to {FLUME}, every 14 days"),
    ("offered gauge zero declined", "structure", None, {"level_run": "x"},
     f"declined the gauge zero offered for {FLUME}"),
    ("offered gauge zero declined", "level run", None, None,
     f"declined the gauge zero that {FLUME} offers"),
    ("role changed", "person", {"role": "crew"}, {"role": "office"},
     f"made {FLUME} office, before crew"),
    ("renamed", "person", {"name": "Ines"}, {"name": "Inez"}, "named a person Inez, before Ines"),
    ("password set", "person", None, None, f"set a new password for {FLUME}"),
    ("own password changed", "person", None, None, "changed their own password"),
    ("retired", "person", {"active": True}, {"active": False},
     f"retired {FLUME}: all sign-ins ended"),
    ("taken back", "person", {"active": False}, {"active": True},
     f"took {FLUME} back: may sign in again"),
    ("taken from a book", "structure", None, {"rows": "60 readings", "book": "Book 3"},
     f"took in 60 readings from Book 3, {FLUME}"),
    ("book taken back", "structure", None, {"rows": 60, "book": "Book 3"},
     f"took back Book 3, {FLUME}"),
    ("token made", "access token", None, {"name": "office script", "scope": "read"},
     "made the access token office script"),
    ("token revoked", "access token", {"name": "office script"}, None,
     "revoked the access token office script"),
    ("set", "setting", {"organisation": "none given"},
     {"organisation": "Upper race users (invented)"},
     "set “Organisation”: Upper race users (invented), before none given"),
    ("set to the default", "setting", {"organisation": "Upper race users"},
     {"organisation": "none given"},
     "set “Organisation” back: none given, before Upper race users"),
    ("new epoch", "server", None, None,
     "began anew after a restore: phones offer their last 30 days again"),
]  # fmt: skip


@pytest.mark.parametrize(("action", "subject", "before", "after", "said"), TOLD)
def test_every_change_says_what_was_done_to_what(
    action: str,
    subject: str,
    before: dict[str, Any] | None,
    after: dict[str, Any] | None,
    said: str,
) -> None:
    nameless = ("item", "preference", "server", "setting")
    named = "" if subject in nameless else "Long-throated flume"
    line = a_line(
        action, subject, before=before, after=after, named=named,
        subject_id={"preference": "water_year", "setting": "organisation"}.get(subject, "2"),
    )  # fmt: skip
    assert sentence(line, 720) == f"Rudd {said}"


def test_a_person_who_is_shut_out_or_has_a_new_password_is_told() -> None:
    before = {"role": "crew", "active": True}
    shut = before | {"active": False, "password": "new"}
    line = a_line("changed", "person", before=before, after=shut, named="Ines")
    assert sentence(line) == "Rudd shut Ines out, and gave Ines a new password"
    same = a_line(
        "changed", "person", before=before, after=before | {"password": "kept"}, named="Ines"
    )
    assert sentence(same) == "Rudd saved Ines without a change"


def test_names_of_what_the_facts_point_to() -> None:
    line = a_line(
        "instrument named", "entry", named="the gauging of 2025-01-02",
        before={"instrument_id": None}, after={"instrument_id": 4},
        others={"instrument_id": "Propeller meter, small"},
    )  # fmt: skip
    assert sentence(line) == (
        "Rudd said that Propeller meter, small was used for the gauging of 2025-01-02"
    )
    moved = a_line(
        "moved", "instrument", after={"place": "person", "person_id": 1, "since": "2025-01-02"},
        named="Level 2", others={"person_id": "Ines"},
    )  # fmt: skip
    assert sentence(moved) == "Rudd noted that Level 2 is with Ines, from 2025-01-02"


# Where the subject of a line is worked out: each of these is told of in the table above.
WORKED_OUT = {
    "app/services/sites/changes.py": {"site", "structure"},
    "app/services/review/answers.py": {"structure", "site", "item"},
}
# Where the action is put together of pieces, which stand in a constant of another file.
PIECES = {
    ("app/services/review/approval.py", "month {to}"): {"month reviewed", "month approved"},
    ("app/services/loggers/waiting.py", "logger file {act}"): {
        "logger file discarded", "logger file taken up again",
    },
}  # fmt: skip


def said_by(node: ast.expr, path: str, known: dict[str, ast.expr]) -> set[str]:
    """Return every text that an expression may give; what cannot be read is a fault."""
    if isinstance(node, ast.Constant):
        return {str(node.value)}
    if isinstance(node, ast.IfExp):
        return said_by(node.body, path, known) | said_by(node.orelse, path, known)
    if isinstance(node, ast.Name) and node.id in known:
        return said_by(known[node.id], path, known)
    if isinstance(node, ast.Subscript) and isinstance(node.value, ast.Name):
        table = known[node.value.id]
        assert isinstance(table, ast.Dict), path
        return {text for value in table.values for text in said_by(value, path, known)}
    if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
        module = import_module(path.removesuffix(".py").replace("/", "."))
        return {str(getattr(getattr(module, node.value.id), node.attr))}
    if isinstance(node, ast.JoinedStr):
        return PIECES[path, ast.unparse(node).strip("f'")]
    raise AssertionError(f"{path} writes an action that no test can read: {ast.unparse(node)}")


def written() -> set[tuple[str, str]]:
    """Return the action and subject of every line that anything writes into the trail."""
    found = set()
    for file in (ROOT / "app").rglob("*.py"):
        path, tree = file.relative_to(ROOT).as_posix(), ast.parse(file.read_text("utf-8"))
        known = {
            target.id: node.value
            for node in tree.body
            if isinstance(node, ast.Assign)
            for target in node.targets
            if isinstance(target, ast.Name)
        }
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "write_audit":
                subjects = WORKED_OUT.get(path) or said_by(node.args[3], path, known)
                for action in said_by(node.args[2], path, known):
                    found |= {(action, subject) for subject in subjects}
    return found


def test_every_change_that_is_written_has_its_sentence() -> None:
    """A new action, or an old one of another kind of thing, needs its line in the table."""
    told = {(action, subject) for action, subject, *_ in TOLD}
    actions = {action for action, _ in told}
    assert len(written()) > 30
    of_items = {x for x in written() if x[1] in WORKED_OUT["app/services/review/answers.py"]}
    assert written() - told - {x for x in of_items if x[0] in actions} == set()
    assert actions - {action for action, _ in written()} == set()
    assert {
        (a, s) for a, s in told if not SENTENCES.get((a, s)) and not SENTENCES.get((a, ""))
    } == set()
