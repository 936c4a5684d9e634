"""A line of the audit trail as a sentence that names the thing: who did what to which of what."""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from app.hydraulics.families.registry import DEVICES
from app.language import words
from app.services.review.trail import AuditLine
from app.services.settings.known import BY_KEY

Facts = Mapping[str, Any]
NAMELESS = {"preference": "the settings", "setting": "the settings", "server": "the server"}
# A name that begins with one of these is a common noun: "Long-throated flume", "Main weir".
COMMON = {word for one in DEVICES.values() for word in one.name.split() if word.islower()} | {
    *("flume", "weir", "notch", "sill", "gauge", "main", "new", "old", "upper", "lower"),
    *("left", "right", "north", "south", "east", "west"),
}


def sentence(line: AuditLine, utc_offset_min: int = 0) -> str:
    """Return what a line says, such as "Rudd approved September 2025 of the long-throated flume".

    Facts that a sentence needs and a line of an older release lacks are left out; what no sentence
    is written for is said by its action.
    """
    facts = {**(line.before or {}), **(line.after or {})}
    write = SENTENCES.get((line.action, line.subject)) or SENTENCES.get((line.action, ""))
    did = write(line, _Facts(facts, utc_offset_min)) if write else f"{line.action}: {the(line)}"
    return f"{line.by[:1].upper()}{line.by[1:]} {did}"


class _Facts:
    """The facts of a line, each as a sentence says it; one that is missing says "not noted"."""

    def __init__(self, facts: Facts, utc_offset_min: int) -> None:
        self.facts, self.offset = facts, utc_offset_min

    def said(self, key: str) -> str:
        value = self.facts.get(key)
        return "not noted" if value in (None, "") else str(value)

    def month(self) -> str:
        year, _, month = self.said("month").partition("-")
        if not (year.isdigit() and month.isdigit() and 1 <= int(month) <= 12):
            return self.said("month")
        return f"{date(int(year), int(month), 1):%B %Y}"

    def since(self, key: str) -> str:
        """Return from when on a thing holds, on the site's clock."""
        text = self.said(key)
        try:
            return (
                words.site_time(datetime.fromisoformat(text), self.offset) if "T" in text else text
            )
        except ValueError:
            return text

    def amount(self) -> str:
        value, unit = self.facts.get("amount"), self.facts.get("unit", "m3/s")
        return words.amount(value, unit) if isinstance(value, int | float) else ""


def the(line: AuditLine) -> str:
    """Return the thing by its name; a name that is a common noun takes its article."""
    name = line.named or NAMELESS.get(line.subject, f"{line.subject} {line.subject_id}")
    first = name.partition(" ")[0].lower()
    if first in COMMON:
        return f"the {name[:1].lower()}{name[1:]}"
    return f"the {name}" if name[:1].islower() and first != "the" else name


def _changed(line: AuditLine, _: _Facts) -> str:
    keys = [key.replace("_", " ") for key, _before, _after in line.changed]
    if not keys:
        return f"saved {the(line)} without a change"
    listed = ", ".join(keys[:-1]) + (" and " if len(keys) > 1 else "") + keys[-1]
    return f"changed the {listed} of {the(line)}"


def _was(line: AuditLine, key: str) -> str:
    """Return what it was before, where the line says so."""
    before = (line.before or {}).get(key)
    return "" if before in (None, "") else f", before {before}"


def _setting(line: AuditLine) -> str:
    """Return a setting by its label, between quotes: some are half a sentence."""
    of = BY_KEY.get(line.subject_id)
    return f"“{of.label if of else line.subject_id}”"


def _added(line: AuditLine, facts: _Facts) -> str:
    role = facts.facts.get("role")
    as_what = f" as {role}" if line.subject == "person" and role else ""
    return f"added the {line.subject} {line.named or facts.said('name')}{as_what}"


def _imported(line: AuditLine, facts: _Facts) -> str:
    count = facts.facts.get("readings")
    many = words.counted(count, "reading") if isinstance(count, int) else "readings"
    return f"took in {many} from {facts.said('file')}, {the(line)}"


def _limit(verb: str) -> Callable[[AuditLine, _Facts], str]:
    def write(line: AuditLine, facts: _Facts) -> str:
        kind = str(facts.facts.get("kind", "")).replace("_", " ")
        end = f", last day {facts.said('valid_to')}" if facts.facts.get("valid_to") else ""
        return f"{verb} the {kind} limit of {facts.amount()} at {the(line)}{end}"

    return write


SENTENCES: dict[tuple[str, str], Callable[[AuditLine, _Facts], str]] = {
    ("month approved", ""): lambda x, f: f"approved {f.month()} of {the(x)}",
    ("month reviewed", ""): lambda x, f: f"reviewed {f.month()} of {the(x)}",
    ("month opened again", ""): lambda x, f: f"opened {f.month()} of {the(x)} again",
    ("added", ""): _added,
    ("changed", ""): _changed,
    ("role changed", "person"): lambda x, f: f"made {the(x)} {f.said('role')}{_was(x, 'role')}",
    ("renamed", "person"): lambda x, f: f"named a person {f.said('name')}{_was(x, 'name')}",
    ("password set", "person"): lambda x, _: f"set a new password for {the(x)}",
    ("own password changed", "person"): lambda *_: "changed their own password",
    ("retired", "person"): lambda x, _: f"retired {the(x)}: all sign-ins ended",
    ("taken back", "person"): lambda x, _: f"took {the(x)} back: may sign in again",
    ("set", "setting"): lambda x, f: (
        f"set {_setting(x)}: {f.said(x.subject_id)}{_was(x, x.subject_id)}"
    ),
    ("set to the default", "setting"): lambda x, f: (
        f"set {_setting(x)} back: {f.said(x.subject_id)}{_was(x, x.subject_id)}"
    ),
    ("set", ""): lambda x, _: f"set {x.subject_id.replace('_', ' ')} for everybody",
    ("rating added", ""): lambda x, f: f"gave {the(x)} a rating from {f.since('valid_from')}",
    (
        "gauge zero added",
        "",
    ): lambda x, f: f"gave {the(x)} a gauge zero from {f.since('valid_from')}",
    ("rated again", ""): lambda x, _: f"rated {the(x)} again",
    (
        "intended design chosen",
        "",
    ): lambda x, f: f"chose the design of {the(x)}: {f.said('candidate')}",
    (
        "commissioning sheet signed",
        "",
    ): lambda x, f: f"signed the commissioning sheet of {the(x)}, fit from {f.since('fit_from')}",
    ("race capacity stated", ""): lambda x, f: (
        f"stated what the race carries at {the(x)}: " + (f.amount() or f.said("kind"))
    ),
    ("limit added", ""): _limit("added"),
    ("limit ended", ""): _limit("ended"),
    ("correction added", ""): lambda x, f: f"laid a correction over the record of {the(x)}",
    ("correction taken back", ""): lambda x, f: f"took back a correction of {the(x)}",
    ("logger added", ""): lambda x, f: f"added the logger {f.said('name')} to {the(x)}",
    ("logger file imported", ""): _imported,
    ("logger file taken back", ""): lambda x, f: f"took back the file {f.said('file')}, {the(x)}",
    ("logger file discarded", ""): lambda x, f: f"discarded the file {f.said('file')} at {the(x)}",
    (
        "logger file taken up again",
        "",
    ): lambda x, f: f"took up the file {f.said('file')} at {the(x)} again",
    ("instrument named", ""): lambda x, f: (
        f"said that entry {x.subject_id} was made with instrument {f.said('instrument_id')}"
    ),
    ("calibrated", ""): lambda x, f: f"noted a calibration of {the(x)}",
    ("calibration corrected", ""): lambda x, f: f"corrected a calibration of {the(x)}",
    ("calibration taken back", ""): lambda x, f: f"took back a calibration of {the(x)}",
    ("moved", "instrument"): lambda x, f: f"moved {the(x)} from {f.said('since')}",
    ("line added to the map", ""): lambda x, f: f"drew the line {f.said('name')} on the map",
    ("line taken off the map", ""): lambda x, f: f"took the line {f.said('name')} off the map",
    ("visits planned", ""): lambda x, f: f"planned the visits to {the(x)}",
    ("offered gauge zero declined", ""): lambda x, _: (
        f"declined the gauge zero offered for {the(x)}"
    ),
}
