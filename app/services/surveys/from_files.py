"""A level book in a file, reduced: sums, misclosure, adjusted levels and what they say."""

from collections.abc import Mapping, Sequence
from pathlib import Path

from app.errors import BadInput
from app.hydraulics.base.units import FOOT
from app.hydraulics.levelling.reduce import RULES, reduce_run
from app.hydraulics.levelling.results import results_of_run
from app.language.typed import read
from app.services.entries.field_files import Spellings, need, read_table

ASSUMED_RL = 100.0
"""Level of the first mark when none is given; assumed datum, common practice."""

_SPELLINGS: Spellings = {
    "setup": [("set_?up(_?(no|number))?|set|instrument|inst|position", 1.0)],
    "point": [("point(_?(name|id))?|pt|mark|station|stn|name|place|target", 1.0)],
    "bs": [("bs(_m|_ft)?|back_?sight(_m|_ft)?|back", 1.0)],
    "is": [("is(_m|_ft)?|ifs|inter(mediate)?(_?sight)?(_m|_ft)?", 1.0)],
    "fs": [("fs(_m|_ft)?|fore_?sight(_m|_ft)?|fore", 1.0)],
    "distance_m": [
        ("(sight_?)?(distance|dist|length)(_m)?", 1.0),
        ("(sight_?)?(distance|dist|length)_ft", FOOT),
    ],
    "bs_distance_m": [
        ("(bs|back_?sight)_(distance|dist|length)(_m)?", 1.0),
        ("(bs|back_?sight)_(distance|dist|length)_ft", FOOT),
    ],
    "fs_distance_m": [
        ("(fs|fore_?sight)_(distance|dist|length)(_m)?", 1.0),
        ("(fs|fore_?sight)_(distance|dist|length)_ft", FOOT),
    ],
    "rl": [("rl(_m|_ft)?|known_rl|reduced_level|level|elev(ation)?(_m|_ft)?", 1.0)],
}

_UNITS = dict.fromkeys(
    ("bs", "is", "fs", "rl", "distance_m", "bs_distance_m", "fs_distance_m"), "m"
)


def reduce_file(
    path: Path,
    *,
    start_rl: float | None = None,
    close_rl: float | None = None,
    unit: str = "m",
    rule: str = "setups",
    distance_km: float | None = None,
    roles: Sequence[str] = (),
    staff_mark_m: float | None = None,
) -> dict[str, object]:
    """Reduce the run of a file with columns setup, point, bs, is, fs; lengths in its own unit.

    Parameters
    ----------
    start_rl : level of the first point; else the file's own rl column, else 100 and said so
    rule : name of a rule, or the allowed misclosure in mm
    roles : "corners=crest UL", "floor=race floor" and so on, to derive the crest results
    """
    rows = read_table(path, _SPELLINGS, _UNITS)
    need(rows, "point")
    notes = []
    if start_rl is None and rows[0].get("rl"):
        start_rl = read("row 1 rl", rows[0]["rl"], unit="m")
    if start_rl is None:
        start_rl = ASSUMED_RL
        notes.append(f"level of the first point not given: {ASSUMED_RL:g} assumed")
    name, limit_mm = _rule(rule)
    run = reduce_run(
        rows,
        start_rl,
        close_rl=close_rl,
        unit=unit,
        rule=name,
        distance_km=distance_km,
        limit_mm=limit_mm,
    )
    said = {key: _tidy(value) for key, value in run.as_dict().items()}
    columns = ("row", "setup", "point", "kind", "reading", "collimation", "rise", "fall", "rl",
               "rl_rise_fall", "correction", "rl_adjusted")  # fmt: skip
    book = [dict(zip(columns, values, strict=True))
            for values in zip(*(said.pop(each) for each in columns), strict=True)]  # fmt: skip
    raw, adjusted = run.point_levels(), run.point_levels(adjusted=True)
    said["words"] = [*run.words, *notes]
    said["rule"] = RULES[name]
    said["reduced_levels"] = book
    said["points"] = {
        each: {
            "rl": _tidy(raw[each].rl),
            "rl_adjusted": _tidy(adjusted[each].rl) if run.within_limit is not None else None,
            "sights": raw[each].count,
            "spread": _tidy(raw[each].spread),
        }
        for each in raw
    }
    if roles:
        found = results_of_run(run, _roles(roles), staff_mark_m=staff_mark_m).as_dict()
        said["results"] = {key: _tidy(value) for key, value in found.items()}
    return said


def _tidy(value: object) -> object:
    """Round away the dust of binary fractions, far below what a staff shows."""
    if isinstance(value, list):
        return [_tidy(each) for each in value]
    return round(value, 10) if isinstance(value, float) else value


def _rule(rule: str) -> tuple[str, float | None]:
    if rule in RULES:
        return rule, None
    try:
        return "fixed", read("rule", rule.removesuffix("mm"), unit="mm")
    except BadInput:
        raise BadInput(
            "rule", rule, "no such rule of misclosure",
            f"Give {', '.join(RULES)}, or the limit in mm.",
        ) from None  # fmt: skip


def _roles(roles: Sequence[str]) -> Mapping[str, str | list[str]]:
    corners: list[str] = []
    found: dict[str, str | list[str]] = {"corners": corners}
    for each in roles:
        role, _, point = each.partition("=")
        if not point.strip():
            raise BadInput("role", each, "reads role=point", "Write corners=crest left, say.")
        if role.strip() in ("corner", "corners"):
            corners.append(point.strip())
        else:
            found[role.strip()] = point.strip()
    return found
