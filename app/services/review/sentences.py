"""A line of the audit trail as a sentence that names the thing: who did what to which of what."""

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from app.hydraulics.families.registry import DEVICES
from app.language import words
from app.services.equipment.fitness import OUTCOMES
from app.services.equipment.register import INSTRUMENT_PLACES
from app.services.review.trail import AuditLine
from app.services.settings.known import BY_KEY

Facts = Mapping[str, Any]
NAMELESS = {
    "preference": "the settings",
    "setting": "the settings",
    "server": "the server",
    "item": "no site",
}
# A name that begins with one of these is a common noun: "Long-throated flume", "Main weir".
COMMON = {word for one in DEVICES.values() for word in one.name.split() if word.islower()} | {
    *("flume", "weir", "notch", "sill", "gauge", "main", "new", "old", "upper", "lower"),
    *("left", "right", "north", "south", "east", "west"),
}
UNITS = {"m": "m", "m2": "m²", "min": "min", "s": "s", "days": "days"}
BANK_FULL = "at bank-full"


def sentence(line: AuditLine, utc_offset_min: int = 0) -> str:
    """Return what a line says, such as "Rudd approved September 2025 of the long-throated flume".

    Facts that a sentence needs and a line of an older release lacks are left out; what no sentence
    is written for is said by its action.
    """
    facts = _Facts({**(line.before or {}), **(line.after or {})}, utc_offset_min)
    write = SENTENCES.get((line.action, line.subject)) or SENTENCES.get((line.action, ""))
    did = write(line, facts) if write else f"noted “{line.action}” of {the(line)}"
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

    def stretch(self) -> str:
        """Return from when to when a thing lies, one moment as one."""
        try:
            ends = [datetime.fromisoformat(self.said(key)) for key in ("from", "to")]
        except ValueError:
            return f"{self.said('from')} to {self.said('to')}"
        return words.site_stretch(ends[0], ends[1], self.offset)

    def amount(self) -> str:
        value, unit = self.facts.get("amount"), self.facts.get("unit", "m3/s")
        return words.amount(value, unit) if isinstance(value, int | float) else ""

    def many(self, key: str, one: str, usual: str) -> str:
        """Return a count with its noun, or the usual words where it was not noted."""
        count = self.facts.get(key)
        return words.counted(count, one) if isinstance(count, int) else usual


def the(line: AuditLine) -> str:
    """Return the thing by its name; a name that is a common noun takes its article."""
    name = line.named or NAMELESS.get(line.subject, f"{line.subject} {line.subject_id[:12]}")
    first = name.partition(" ")[0].lower()
    if first in ("the", "no"):
        return name
    if first in COMMON:
        return f"the {name[:1].lower()}{name[1:]}"
    return f"the {name}" if name[:1].islower() else name


def _label(key: str) -> tuple[str, str]:
    """Return the words of a column and its unit, which its suffix says."""
    name, _, suffix = key.rpartition("_")
    unit = UNITS.get(suffix, "") if name else ""
    return (name if unit else key).replace("_", " "), unit


def _value(value: Any, unit: str) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    text = words.significant(value, 6) if isinstance(value, float) else str(value)
    return f"{text} {unit}".strip()


def _changed(line: AuditLine, _: _Facts) -> str:
    changed = line.changed
    if not changed:
        return f"saved {the(line)} without a change"
    labels = [_label(key)[0] for key, _before, _after in changed]
    if len(changed) == 1:
        key, before, after = changed[0]
        unit = _label(key)[1]
        plain = not any(isinstance(x, dict | list) or len(str(x)) > 60 for x in (before, after))
        way = f" from {_value(before, unit)} to {_value(after, unit)}" if plain else ""
        return f"changed the {labels[0]} of {the(line)}{way}"
    return f"changed the {', '.join(labels[:-1])} and {labels[-1]} of {the(line)}"


def _person(line: AuditLine, facts: _Facts) -> str:
    """Return what became of a person: role, whether they may sign in, a new password."""
    did = []
    for key, before, after in line.changed:
        if key == "role":
            did.append(f"made {the(line)} {after}, was {before}")
        elif key == "active":
            did.append(f"let {the(line)} sign in again" if after else f"shut {the(line)} out")
    if facts.facts.get("password") == "new":
        did.append(f"gave {the(line)} a new password")
    return ", and ".join(did) or f"saved {the(line)} without a change"


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


def _capacity(line: AuditLine, facts: _Facts) -> str:
    kind, amount = facts.facts.get("kind"), facts.facts.get("amount")
    known = isinstance(amount, int | float)
    if kind == "unknown":
        return f"stated that what the race carries at {the(line)} is not known any more"
    said = facts.amount() if kind != "head" else f"a head of {words.metres(amount)}"
    return f"stated what the race carries at {the(line)}: " + (
        f"{said} {BANK_FULL}" if known else facts.said("kind")
    )


def _limit(verb: str) -> Callable[[AuditLine, _Facts], str]:
    def write(line: AuditLine, facts: _Facts) -> str:
        kind = str(facts.facts.get("kind", "")).replace("_", " ")
        end = f", last day {facts.said('valid_to')}" if facts.facts.get("valid_to") else ""
        limit = " ".join(x for x in (kind, "limit") if x)
        amount = f" of {facts.amount()}" if facts.amount() else ""
        return f"{verb} the {limit}{amount} at {the(line)}{end}"

    return write


def _corrected(verb: str) -> Callable[[AuditLine, _Facts], str]:
    def write(line: AuditLine, facts: _Facts) -> str:
        shape = f"correction ({facts.said('shape')})" if "shape" in facts.facts else "correction"
        span = f", {facts.stretch()}" if "from" in facts.facts else ""
        what = facts.facts.get("quantity", "record")
        return f"{verb} a {shape} over the {what} of {the(line)}{span}"

    return write


def _moved(line: AuditLine, facts: _Facts) -> str:
    place = facts.facts.get("place", "")
    who = line.others.get("site_id") or line.others.get("person_id")
    where = {"site": f"at {who}", "person": f"with {who}"}.get(place) if who else None
    where = where or INSTRUMENT_PLACES.get(place, "somewhere else")
    detail = f", {facts.said('words')}" if facts.facts.get("words") else ""
    return f"noted that {the(line)} is {where}{detail}, from {facts.said('since')}"


def _calibrated(line: AuditLine, facts: _Facts) -> str:
    found = OUTCOMES.get(facts.facts.get("outcome", ""), "")
    day = f" of {facts.said('on_day')}" if facts.facts.get("on_day") else ""
    return f"a calibration of {the(line)}{day}" + (f": {found}" if found else "")


def _instrument(line: AuditLine, facts: _Facts) -> str:
    if facts.facts.get("instrument_id") is None:
        return f"said that no instrument of the register was used for {the(line)}"
    name = line.others.get("instrument_id") or f"instrument {facts.said('instrument_id')}"
    return f"said that {name} was used for {the(line)}"


def _item(verb: str, end: str = "") -> Callable[[AuditLine, _Facts], str]:
    def write(line: AuditLine, facts: _Facts) -> str:
        what = facts.said("kind")
        article = "an" if what[:1] in "aeiou" else "a"
        where = f"of {the(line)}" if line.subject == "structure" else f"at {the(line)}"
        return f"{verb} {article} {what} {where}, {facts.stretch()}{end}"

    return write


SENTENCES: dict[tuple[str, str], Callable[[AuditLine, _Facts], str]] = {
    ("month approved", ""): lambda x, f: f"approved {f.month()} of {the(x)}",
    ("month reviewed", ""): lambda x, f: f"reviewed {f.month()} of {the(x)}",
    ("month opened again", ""): lambda x, f: f"opened {f.month()} of {the(x)} again",
    ("item accepted", ""): _item("accepted"),
    ("item returned", ""): _item("returned"),
    ("item commented on", ""): _item("commented on"),
    ("item opened again", ""): _item("opened", " again"),
    ("answer to an item taken back", ""): _item("took back the answer to"),
    ("added", ""): _added,
    ("changed", ""): _changed,
    ("changed", "person"): _person,
    ("set", ""): lambda x, _: f"set the {x.subject_id.replace('_', ' ')} for everybody",
    ("role changed", "person"): lambda x, f: f"made {the(x)} {f.said('role')}{_was(x, 'role')}",
    ("renamed", "person"): lambda x, f: f"named a person {f.said('name')}{_was(x, 'name')}",
    ("password set", "person"): lambda x, _: f"set a new password for {the(x)}",
    ("own password changed", "person"): lambda *_: "changed their own password",
    ("retired", "person"): lambda x, _: f"retired {the(x)}: all sign-ins ended",
    ("token made", ""): lambda _, f: f"made the access token {f.said('name')}",
    ("token revoked", ""): lambda _, f: f"revoked the access token {f.said('name')}",
    ("taken back", "person"): lambda x, _: f"took {the(x)} back: may sign in again",
    ("set", "setting"): lambda x, f: (
        f"set {_setting(x)}: {f.said(x.subject_id)}{_was(x, x.subject_id)}"
    ),
    ("set to the default", "setting"): lambda x, f: (
        f"set {_setting(x)} back: {f.said(x.subject_id)}{_was(x, x.subject_id)}"
    ),
    ("rating added", ""): lambda x, f: f"gave {the(x)} a rating from {f.since('valid_from')}",
    ("gauge zero added", ""): lambda x, f: (
        f"gave {the(x)} a gauge zero from {f.since('valid_from')}"
    ),
    ("rated again", ""): lambda x, _: f"rated {the(x)} again",
    ("intended design chosen", ""): lambda x, f: (
        f"chose the design of {the(x)}: {f.said('candidate')}"
    ),
    ("commissioning sheet signed", ""): lambda x, f: (
        f"signed the commissioning sheet of {the(x)}, fit from {f.since('fit_from')}"
    ),
    ("race capacity stated", ""): _capacity,
    ("limit added", ""): _limit("added"),
    ("limit ended", ""): _limit("ended"),
    ("correction added", ""): _corrected("laid"),
    ("correction taken back", ""): _corrected("took back"),
    ("logger added", ""): lambda x, f: f"added the logger {f.said('name')} to {the(x)}",
    ("logger file imported", ""): lambda x, f: (
        f"took in {f.many('readings', 'reading', 'readings')} from {f.said('file')}, {the(x)}"
    ),
    ("logger file taken back", ""): lambda x, f: f"took back the file {f.said('file')}, {the(x)}",
    ("logger file discarded", ""): lambda x, f: f"discarded the file {f.said('file')} at {the(x)}",
    ("logger file taken up again", ""): lambda x, f: (
        f"took up the file {f.said('file')} at {the(x)} again"
    ),
    ("taken from a book", ""): lambda x, f: (
        f"took in {f.said('rows')} from {f.said('book')}, {the(x)}"
    ),
    ("book taken back", ""): lambda x, f: f"took back {f.said('book')}, {the(x)}",
    ("instrument named", ""): _instrument,
    ("calibrated", ""): lambda x, f: f"noted {_calibrated(x, f)}",
    ("calibration corrected", ""): lambda x, f: f"corrected {_calibrated(x, f)}",
    ("calibration taken back", ""): lambda x, f: f"took back {_calibrated(x, f)}",
    ("moved", "instrument"): _moved,
    ("line added to the map", ""): lambda x, f: (
        f"drew {f.said('name')} on the map, {f.many('lines', 'line', 'lines')}"
    ),
    ("line taken off the map", ""): lambda x, f: f"took {f.said('name')} off the map",
    ("visits planned", ""): lambda x, f: (
        f"planned the visits to {the(x)}"
        + (f", every {f.many('interval_days', 'day', '')}" if f.facts.get("interval_days") else "")
    ),
    ("offered gauge zero declined", ""): lambda x, _: (
        f"declined the gauge zero offered for {the(x)}"
    ),
    ("offered gauge zero declined", "level run"): lambda x, _: (
        f"declined the gauge zero that {the(x)} offers"
    ),
    ("new epoch", "server"): lambda x, _: (
        "began anew after a restore: phones offer their last 30 days again"
    ),
}
