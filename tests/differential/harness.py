"""Asks the phone's own code, in one node process, and holds its answer against the server's.

MODULES is the one place that says where the phone's files lie. A dose larger than the gate's is
run by hand: ``SILLBOOK_DRAWS=5000 python -m pytest tests/differential`` draws anew each time.
"""

import contextlib
import json
import math
import os
import select
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, settings

from app.errors import BadInput
from app.hydraulics.base.result import plain
from tests.paths import ROOT

STATIC = ROOT / "static"
MODULES: dict[str, tuple[str, ...]] = {
    "ahead": ("field/typed/ahead.js",),
    "assess": ("field/reading/assess.js",),
    "clock_words": ("field/base/clock_words.js",),
    "dimension_slip": ("field/typed/dimension_slip.js",),
    "format": ("shared/format.js",),
    "gauging_methods": ("field/gauging/methods.js",),
    "gauging_verdict": ("field/gauging/verdict.js",),
    "install_entry": ("field/install/entry.js", "field/install/check.js"),
    "levels_entry": (
        "field/levels/entry.js",
        "field/levels/book.js",
        "field/levels/reduce.js",
        "field/levels/doubts.js",
    ),
    "levels_marks": ("field/levels/marks.js",),
    "nearest": ("field/base/nearest.js",),
    "number_words": ("field/typed/number_words.js",),
    "numbers": ("shared/numbers.js",),
    "opening_entry": ("field/opening/entry.js",),
    "pack": ("field/keep/pack.js",),
    "plan_sums": ("field/sums/plan.js",),
    "preview": ("field/sums/preview.js",),
    "standing": ("field/keep/standing.js",),
    "steadiness": ("field/sums/steadiness.js",),
    "sums": ("field/sums/repeats.js",),
    "sums_background": ("field/sums/background.js",),
    "sums_crest": ("field/sums/levelling/crest.js",),
    "sums_dilution": ("field/sums/dilution.js",),
    "sums_gaugings": ("field/sums/gaugings.js",),
    "sums_install": ("field/sums/install.js",),
    "sums_levels": (
        "field/sums/levelling/reduce.js",
        "field/sums/levelling/sharing.js",
        "field/sums/levelling/sights.js",
    ),
    "sums_statistics": ("field/sums/statistics.js",),
    "sums_velocity_area": ("field/sums/velocity_area.js",),
    "uuid7": ("field/base/uuid7.js",),
}

DRAWS = int(os.environ.get("SILLBOOK_DRAWS", "0"))
drawn = settings(
    max_examples=DRAWS or 100,
    derandomize=not DRAWS,
    database=None,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
"""Decorates every test here: the same draws each time in the gate, new ones in a larger dose."""

dear = settings(drawn, max_examples=DRAWS or 25)
"""The same where the office works out a whole plan for each draw."""

TOLERANCE = 1e-9  # relative: two languages add the same terms in another order
LONGEST_S = 20.0
PROGRAM = Path(__file__).with_name("phone.js")


class Phone:
    """One node process that answers questions a line each, until it is closed."""

    def __init__(self) -> None:
        where = {
            name: [(STATIC / path).as_uri() for path in paths] for name, paths in MODULES.items()
        }
        self._node = subprocess.Popen(
            ["node", str(PROGRAM), json.dumps(where)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )

    def ask(self, call: str, *args: Any) -> dict[str, Any]:
        """Return {"result": ...} or {"error": {field, rule, remedy}}; any other fault fails."""
        assert self._node.stdin is not None
        assert self._node.stdout is not None
        line = json.dumps({"call": call, "args": wire(list(args))}, allow_nan=False)
        self._node.stdin.write(line + "\n")
        self._node.stdin.flush()
        ready, _, _ = select.select([self._node.stdout], [], [], LONGEST_S)
        assert ready, f"no answer from the phone's code to {line[:400]}"
        said = self._node.stdout.readline()
        assert said, "the phone's process has ended"
        found: dict[str, Any] = unwired(json.loads(said))
        assert "fault" not in found, f"{call}: {found['fault']}"
        return found

    def close(self) -> None:
        """End the process by its own handle, and no other."""
        for stream in (self._node.stdin, self._node.stdout):
            if stream is not None:
                with contextlib.suppress(OSError):
                    stream.close()
        try:
            self._node.wait(5.0)
        except subprocess.TimeoutExpired:
            self._node.kill()
            self._node.wait()


def wire(value: Any) -> Any:
    """Turn numbers that JSON has no word for into one that both sides read."""
    if isinstance(value, dict):
        return {key: wire(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [wire(item) for item in value]
    if isinstance(value, float) and not math.isfinite(value):
        return {"$number": "NaN" if math.isnan(value) else str(value).replace("inf", "Infinity")}
    return value


def unwired(value: Any) -> Any:
    if isinstance(value, dict):
        return (
            float(value["$number"])
            if "$number" in value
            else {key: unwired(item) for key, item in value.items()}
        )
    return [unwired(item) for item in value] if isinstance(value, list) else value


def answered(act: Callable[[], object]) -> dict[str, Any]:
    """Return the server's answer in the phone's form; a missing number is null."""
    try:
        return {"result": plain(act())}
    except BadInput as error:
        return {"error": {"field": error.field, "rule": error.rule, "remedy": error.remedy}}


def same(phone: Any, office: Any, where: str = "", tolerance: float = TOLERANCE) -> None:
    """Compare shape, words and numbers of two answers."""
    told = f"{where}: phone {phone!r}, office {office!r}"
    if isinstance(office, dict):
        assert isinstance(phone, dict), told
        assert sorted(phone) == sorted(office), told
        for key in office:
            same(phone[key], office[key], f"{where}.{key}", tolerance)
    elif isinstance(office, (list, tuple)):
        assert isinstance(phone, list), told
        assert len(phone) == len(office), told
        for place, (mine, theirs) in enumerate(zip(phone, office, strict=True)):
            same(mine, theirs, f"{where}.{place}", tolerance)
    elif isinstance(office, (int, float)) and not isinstance(office, bool):
        assert isinstance(phone, (int, float)), told
        assert not isinstance(phone, bool), told
        assert math.isclose(phone, office, rel_tol=tolerance, abs_tol=tolerance * 1e-3), told
    else:
        assert phone == office, told
