"""Scripts and style sheets keep the rules of the rooms: short, few a folder, nothing unused."""

import re
from collections import defaultdict
from pathlib import Path

import pytest

from tests.house.scripts import PHONE_TESTS, STATIC, exported, files, taken, text_of
from tests.paths import ROOT
from tests.test_rooms import forms_of

MOST_LINES = 300
MOST_MODULES = 12
WRITTEN = [*files(".js", STATIC, PHONE_TESTS), *files(".css")]
# Steps of a module that its own functions take and a test looks at alone.
PROVEN_ALONE = {
    "static/field/base/clock_words.js": {"duration"},
    "static/field/base/instruments.js": {"calibrationWords", "isInDate", "offered", "remembered"},
    "static/field/base/nearest.js": {"distanceM"},
    "static/field/base/picture_time.js": {"timeIn"},
    "static/field/base/uuid7.js": {"makeUuid7"},
    "static/field/keep/outbox_file.js": {"base64Parts", "fileParts"},
    "static/field/keep/standing.js": {"standing"},
    "static/field/keep/sync.js": {"drain"},
    "static/field/levels/marks_form.js": {"markEntry", "markProblem"},
    "static/field/opening/entry.js": {"withSeconds"},
    "static/field/shell/countdown.js": {"said"},
    "static/field/sums/levelling/crest.js": {"crestResults"},
    "static/field/sums/plan.js": {"columnAt", "headFor"},
    "static/field/sums/preview.js": {"drownedFactor"},
    "static/field/sums/steadiness.js": {"STUDENT_T_95", "STUDENT_T_95_LARGE"},
    "static/field/sums/velocity_area.js": {"componentPct", "meanVelocity"},
    "static/office/site_offset.js": {"offsetText", "standardOffsetMin"},
}
FOLDERS = sorted({path.parent for path in files(".js", STATIC, PHONE_TESTS)})


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@pytest.mark.parametrize("path", WRITTEN, ids=name)
def test_no_long_script_or_style_sheet(path: Path) -> None:
    lines = len(path.read_text("utf-8").splitlines())
    assert lines <= MOST_LINES, f"{name(path)} has {lines} lines: which second job moved in?"


@pytest.mark.parametrize("folder", FOLDERS, ids=name)
def test_a_folder_of_scripts_fits_on_one_look(folder: Path) -> None:
    here = [path.name for path in folder.glob("*.js")]
    assert len(here) <= MOST_MODULES, here


@pytest.mark.parametrize("folder", FOLDERS, ids=name)
def test_a_script_never_repeats_its_folders_noun(folder: Path) -> None:
    for path in folder.glob("*.js"):
        twice = forms_of(folder.name) & forms_of(path.stem.split("_")[0].split(".")[0])
        assert not twice, f"{name(path)} says {twice} twice"


def given_on() -> dict[Path, set[Path]]:
    """Return for a module those that give all of it on: `export * from`."""
    found: dict[Path, set[Path]] = defaultdict(set)
    for path in files(".js"):
        for target, names in taken(path):
            if "+" in names:
                found[target].add(path)
    return found


def test_nothing_is_exported_in_vain() -> None:
    """A test alone is no use: a script or page takes each name, or it is a step of its module."""
    used: dict[Path, set[str]] = defaultdict(set)
    for path in files(".js"):
        for target, names in taken(path):
            assert target.is_file(), f"{name(path)} takes from {name(target)}, which is not there"
            used[target] |= names
    through = given_on()
    idle: dict[str, set[str]] = {}
    for path in files(".js"):
        wanted = set(used[path]).union(*(used[other] for other in through[path]))
        left = set() if "*" in wanted else exported(path) - wanted
        if left:
            idle[name(path)] = left
            for one in left:
                called = len(re.findall(rf"\b{one}\b", text_of(path)))
                assert called > 1, f"{name(path)}: nothing uses {one}"
    assert idle == PROVEN_ALONE, "use it, keep it to its file, or drop it"


def test_what_is_taken_is_given() -> None:
    """The browser would refuse the whole page; so does this."""
    for path in [*files(".js"), *files(".js", PHONE_TESTS)]:
        for target, names in taken(path):
            given = exported(target)
            for other, some in taken(target):
                given |= exported(other) if "+" in some else set()
            lacking = names - given - {"*", "+"}
            assert not lacking, f"{name(path)} takes {lacking} from {name(target)}"


def test_every_form_of_the_phone_has_the_one_life() -> None:
    """`entry_form.js` saves, keeps drafts, puts right and corrects; a picture is kept as taken."""
    held = {
        name(path) for path in files(".js") if re.search(r"outbox\.(hold|replace)\(", text_of(path))
    }
    assert held == {"static/field/shell/entry_form.js", "static/field/shell/photos_box.js"}
    kinds = STATIC / "field" / "base" / "kinds.js"
    made = {
        kind
        for path in files(".js", STATIC / "field")
        for kind in re.findall(r'^\s+kind: "(\w+)",', text_of(path), re.M)
    }
    known = set(re.findall(r"^  (\w+): \{", text_of(kinds), re.M))
    assert made == known, "a kind without a form, or a form without a kind"


def test_no_circle_of_scripts() -> None:
    """What a script takes from, directly or on the way, never takes from it."""
    takes = {path: {target for target, _ in taken(path)} for path in files(".js")}
    done: set[Path] = set()

    def visit(path: Path, way: tuple[Path, ...]) -> None:
        assert path not in way, " -> ".join(name(one) for one in (*way, path))
        if path not in done:
            for target in takes.get(path, ()):
                visit(target, (*way, path))
            done.add(path)

    for path in takes:
        visit(path, ())
    assert sum(len(targets) for targets in takes.values()) > 200
