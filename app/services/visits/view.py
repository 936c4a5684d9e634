"""One visit with what lies within it, and what that says: as found, as left, still open."""

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.sites import Site
from app.services.equipment.naming import day_of

# what is counted at a visit, with the words for one and for more
COUNTED = {
    "head_reading": ("reading", "readings"),
    "check_gauging": ("check gauging", "check gaugings"),
    "level_run": ("level run", "level runs"),
    "photo": ("photo", "photos"),
    "logger_file": ("logger file", "logger files"),
    "opening": ("opening", "openings"),
    "install_stop": ("install stop", "install stops"),
    "dimension_check": ("check of dimensions", "checks of dimensions"),
    "benchmark": ("benchmark", "benchmarks"),
}
NO_END = "no end recorded"


@dataclass(frozen=True)
class Within:
    """An entry within a visit; `by_time` when it names no visit itself."""

    entry: Entry
    by_time: bool
    value: FlowValue | None = None


@dataclass(frozen=True, kw_only=True)
class VisitView:
    """A visit with everything within it, oldest first."""

    entry: Entry
    site: Site
    by: str
    rival: bool
    corrected: bool
    ended_at: datetime | None
    end_said: bool
    ahead: str
    within: list[Within] = field(default_factory=list)
    structures: dict[int | None, str] = field(default_factory=dict)
    unclear: int = 0
    loggers_reach: tuple[datetime | None, ...] = ()
    """To when the record of each logger of the site reaches; None: nothing on record."""

    @property
    def body(self) -> dict[str, Any]:
        return self.entry.body

    @property
    def day(self) -> date:
        return day_of(self.entry.observed_at, self.entry.utc_offset_min)

    @property
    def hours(self) -> float | None:
        """Return the hours: as said, else from begin to the end that was said; else unknown."""
        if self.body.get("hours") is not None:
            return float(self.body["hours"])
        if self.end_said and self.ended_at is not None:
            return round((self.ended_at - self.entry.observed_at).total_seconds() / 3600.0, 2)
        return None

    @property
    def end_words(self) -> str:
        if self.end_said:
            return "as said"
        return f"{NO_END}; last entry" if self.ended_at else NO_END

    def of_kind(self, kind: str) -> list[Within]:
        return [one for one in self.within if one.entry.kind == kind]

    def readings(self, occasion: str) -> list[Within]:
        found = self.of_kind("head_reading")
        return [one for one in found if one.entry.body.get("occasion", "during") == occasion]

    @property
    def counts(self) -> list[str]:
        """Return how much of each kind there is, such as "2 readings"."""
        found = []
        for kind, (one, more) in COUNTED.items():
            if count := len(self.of_kind(kind)):
                found.append(f"{count} {one if count == 1 else more}")
        return found

    @property
    def conditions(self) -> list[str]:
        """Return what was seen at the visit itself and at its readings as found."""
        seen = list(self.body.get("conditions") or [])
        for one in self.readings("as_found"):
            seen += one.entry.body.get("conditions") or []
        return list(dict.fromkeys(seen))

    @property
    def others(self) -> list[str]:
        """Return who else was there; phones list the author among the observers, or not."""
        return [name for name in self.body.get("observers") or [] if name != self.by]

    @property
    def done(self) -> list[str]:
        """Return the work that was said; empty: nobody said, which is not "nothing"."""
        return list(self.body.get("done") or [])

    @property
    def pairs(self) -> list[dict[str, Any]]:
        """Return each structure's head and discharge as found and as left."""
        found = []
        for structure_id, name in self.structures.items():
            sides = {
                occasion: [
                    one for one in self.readings(occasion) if one.entry.structure_id == structure_id
                ]
                for occasion in ("as_found", "as_left")
            }
            if sides["as_found"] or sides["as_left"]:
                first = sides["as_found"][0] if sides["as_found"] else None
                last = sides["as_left"][-1] if sides["as_left"] else None
                found.append({"structure": name, "found": first, "left": last,
                              "change_m": _change(first, last)})  # fmt: skip
        return found

    @property
    def still_open(self) -> list[str]:
        """Return what the visit leaves open, in words."""
        said = []
        if not self.body.get("cautions_read"):
            said.append("cautions not ticked as read")
        for pair in self.pairs:
            if pair["left"] is None:
                said.append(f"{pair['structure']}: read as found, not as left")
            elif pair["found"] is None:
                said.append(f"{pair['structure']}: read as left, not as found")
        if not self.of_kind("head_reading"):
            said.append("no reading")
        behind = [to for to in self.loggers_reach if to is None or to < self.entry.observed_at]
        if behind and not self.of_kind("logger_file"):
            count = len(behind)
            said.append(
                "logger not downloaded" if count == 1 else f"{count} loggers not downloaded"
            )
        if self.unclear:
            verbs = ("entry lies", "names") if self.unclear == 1 else ("entries lie", "name")
            said.append(f"{self.unclear} {verbs[0]} in the time of two visits and {verbs[1]} none")
        return said


def _change(first: Within | None, last: Within | None) -> float | None:
    heads = [one.value.head_m if one and one.value else None for one in (first, last)]
    return None if heads[0] is None or heads[1] is None else heads[1] - heads[0]
