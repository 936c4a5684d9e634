"""Every function of the phone's that the office has too is asked here; the others are named."""

import ast
import re
from pathlib import Path

from tests.differential.harness import MODULES, STATIC, Phone

HERE = Path(__file__).parent
PROGRAM = (HERE / "phone.js").read_text("utf-8")
ROOMS = ("field/base", "field/sums", "field/typed")
FORMS = ("install_entry", "levels_entry", "opening_entry")
"""Forms: beside the sums asked here they hold what a page needs, such as an empty form."""

PHONE_ONLY = {
    "field/base/fault_words.js": "words of a refusal that the office sent",
    "field/base/instruments.js": "words of the register, asked by its own test",
    "field/base/kinds.js": "the page whose form puts a record right",
    "field/base/picture_time.js": "read before a picture is encoded anew; the office never sees it",
    "field/base/states.js": "where a record is, seen from the phone",
    "field/base/thresholds.js": "equal to the office's by tests/tables/thresholds.json",
    "field/base/unshown.js": "what a form of the phone does not show",
    "field/base/why.js": "the box for the reason of a correction",
    "field/typed/figure_limits.js": "a question before saving; the office stores what is kept",
    "field/typed/number_ask.js": "draws a question",
    "field/typed/plausible.js": "a question before saving; the office stores what is kept",
    "field/base/counting.js": "whether somebody on this phone waits to read again",
    "field/typed/staff_unit.js": "the unit of a staff on this phone; the office keeps metres",
    "field/typed/text.js": "boxes of a form",
}
ALONE = {
    "pack.keepPack": "writes to the phone's own database",
    "assess.previewBody": "what the phone showed, told to the office",
    "format.discharge": "the pieces of dischargeLine, which is asked",
    "gauging_methods.methodOf": "finds the form of a method",
    "nearest.distanceWords": "the office tells no distance",
    "nearest.whereAmI": "asks the phone where it is",
    "numbers.lengthText": "a length in the unit of the form; the office writes metres",
    "pack.findSite": "a look into what the office sent",
    "pack.findStructure": "a look into what the office sent",
    "pack.makePack": "keeps what the office sent",
    "pack.phoneId": "the phone's own name",
    "standing.standingHere": "standing, which is asked, over what this phone holds",
    "sums_background.onePlace": "a guard of rounding within the background, which is asked",
    "sums_levels.blank": "within reduceRun, which is asked",
    "sums_levels.number": "within reduceRun, which is asked",
    "sums_levels.sharing": "within reduceRun, which is asked",
    "sums_levels.sights": "within reduceRun, which is asked",
    "sums_statistics.positive": "a refusal within the sums that are asked",
    "sums_statistics.sum": "adds a list",
    "uuid7.uuid7": "makeUuid7, which is asked, with the phone's own clock",
}


def strings() -> set[str]:
    """Return every text that the tests here hold."""
    found = set()
    for path in HERE.glob("test_*.py"):
        if path != Path(__file__):
            tree = ast.parse(path.read_text("utf-8"))
            found |= {
                node.value
                for node in ast.walk(tree)
                if isinstance(node, ast.Constant) and isinstance(node.value, str)
            }
    return found


def asked() -> list[str]:
    """Return the functions asked, as module.function: by a test, or within a built question."""
    named = {text for text in strings() if re.fullmatch(r"\w+\.\w+", text)}
    built = {f"{module}.{name}" for module, name in re.findall(r"(\w+)\.(\w+)\(", PROGRAM)}
    return sorted(call for call in named | built if call.split(".")[0] in MODULES)


def test_a_function_of_the_phone_is_asked_or_named_as_its_own(phone: Phone) -> None:
    found = phone.ask("unasked", asked())["result"]
    unasked = {call for call in found if call.split(".")[0] not in FORMS}
    assert unasked == set(ALONE), "ask it, or say why the office has no such thing"


def test_every_built_question_is_asked() -> None:
    built = set(re.findall(r"^  (\w+): \(", PROGRAM, re.M)) - {"unasked"}
    assert built <= strings(), built - strings()


def test_every_file_of_sums_is_looked_at() -> None:
    known = {path for paths in MODULES.values() for path in paths} | set(PHONE_ONLY)
    files = {
        path.relative_to(STATIC).as_posix()
        for room in ROOMS
        for path in (STATIC / room).rglob("*.js")
    }
    assert files <= known, files - known
