"""The scripts and style sheets of `static/` and `tests/phone` as text, for the house rules."""

import os
import re
from functools import cache
from pathlib import Path

from tests.paths import ROOT

STATIC = ROOT / "static"
PHONE_TESTS = ROOT / "tests" / "phone"
COMMENT = re.compile(r"/\*.*?\*/|(?<!:)//[^\n]*", re.S)
_TAKEN = re.compile(
    r'(?:import|export)\s+(?:\{([^}]*)\}|\*\s+as\s+(\w+)|(\*))\s+from\s+"(\.[^"]+)"'
)
_LATER = re.compile(
    r'(?:\{([^{}]*)\}\s*=\s*await\s+|\(await\s+)?import\("([^"]+)"\)(?:\)\s*(\.\w+|\[))?'
)
_MADE = re.compile(r"^export (?:async )?(?:function\*?|const|let|class) (\w+)", re.M)
_PASSED = re.compile(r"^export \{([^}]*)\}", re.M)


def files(suffix: str, *places: Path) -> list[Path]:
    """Return what the house wrote of a kind, vendored files aside."""
    found = (path for place in places or (STATIC,) for path in place.rglob(f"*{suffix}"))
    return sorted(path for path in found if "vendor" not in path.parts)


@cache
def text_of(path: Path) -> str:
    """Return a file without its comments."""
    return COMMENT.sub("", path.read_text("utf-8"))


def exported(path: Path) -> set[str]:
    """Return the names that a module gives out under its own name."""
    text = text_of(path)
    passed = {
        one.split(" as ")[-1].strip() for part in _PASSED.findall(text) for one in part.split(",")
    }
    return set(_MADE.findall(text)) | {name for name in passed if name}


def _names(part: str) -> set[str]:
    return {re.split(r" as |:", one)[0].strip() for one in part.split(",") if one.strip()}


def taken(path: Path) -> list[tuple[Path, set[str]]]:
    """Return what a module or page takes from others: each with the names, `*` for all."""
    text, here, found = text_of(path), path.parent, []
    for named, whole, every, address in _TAKEN.findall(text):
        names = _names(named) if named else {"*"}
        if whole:
            used = set(re.findall(rf"\b{whole}\s*\.(\w+)", text))
            bare = re.search(rf"\b{whole}\b(?!\s*\.)", re.sub(r'(import|export)[^;]*?";', "", text))
            names = {"*"} if bare else used
        found.append((_at(here, address), {"+"} if every else names))
    for named, address, after in _LATER.findall(text):
        names = {after[1:]} if after.startswith(".") else _names(named or "*")
        found.append((_at(here, address), names))
    return found


def _at(here: Path, address: str) -> Path:
    if address.startswith("/static/"):
        return STATIC / address.removeprefix("/static/")
    return Path(os.path.normpath(here / address))
