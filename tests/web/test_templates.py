"""Rules of the templates: each is used, each macro is called, what many pages hold stands once."""

import re
from collections import Counter
from pathlib import Path

import pytest

from app.paths import TEMPLATES
from app.web.render import ENVIRONMENT
from app.web.routes.field import FIELD_PAGES
from tests.paths import ROOT

LONGEST = 300
BLOCK, MOST_COPIES = 7, 2  # so many lines of markup in a row stand in so many templates at most

PAGES = {
    path.relative_to(TEMPLATES).as_posix(): path.read_text("utf-8")
    for path in sorted(TEMPLATES.rglob("*.html"))
}
OFFICE = {name: text for name, text in PAGES.items() if not name.startswith("field/")}
PYTHON = "\n".join(path.read_text("utf-8") for path in sorted((ROOT / "app").rglob("*.py")))
CLOSING = re.compile(r"(?:(?:</\w+>|\{% end\w+ %\})\n?)+")  # the ends of tags say nothing


def test_every_template_is_used() -> None:
    named = {f"field/{page.template}" for page in FIELD_PAGES}
    named |= set(re.findall(r'"([\w/]+\.html)"', PYTHON + "".join(PAGES.values())))
    assert set(PAGES) - named == set()
    missing = {name for name in named if not Path(TEMPLATES, name).is_file()}
    assert missing <= {f"{page.template}" for page in FIELD_PAGES}


@pytest.mark.parametrize("name", PAGES)
def test_a_template_is_no_longer_than_a_file(name: str) -> None:
    ENVIRONMENT.get_template(name)
    assert len(PAGES[name].splitlines()) <= LONGEST


def test_every_macro_is_called_and_every_import_is_used() -> None:
    everything = "".join(PAGES.values())
    for name, text in PAGES.items():
        for macro in re.findall(r"{% macro (\w+)\(", text):
            calls = len(re.findall(rf"\b{macro}\(", everything))
            assert calls > everything.count(f"macro {macro}("), f"{name}: {macro} is not called"
        for _, taken in re.findall(r'{% from "([\w/.]+)" import ([\w, ]+) %}', text):
            for macro in taken.split(", "):
                assert re.search(rf"\b{macro}\(", text), f"{name} imports {macro} for nothing"


@pytest.mark.parametrize("name", OFFICE)
def test_region_and_numbers_are_written_once(name: str) -> None:
    """The way back, regions and lists are in `_parts.html`, formats in `language/words.py`."""
    text = OFFICE[name]
    assert name == "_parts.html" or 'role="region"' not in text
    assert name == "_parts.html" or not re.search(
        r'\.csv[^"]*">CSV</a> <a [^>]*\.json[^"]*">JSON</a>', text
    )
    formats = re.findall(r'"%[^"/]*[fg][^"/]*" \| format|"{:[^"]*}"\.format', text)
    assert formats == []


def test_no_block_of_markup_stands_in_three_places() -> None:
    found: Counter[str] = Counter()
    for text in PAGES.values():
        lines = [" ".join(line.split()) for line in text.splitlines() if line.strip()]
        blocks = {"\n".join(lines[i : i + BLOCK]) for i in range(len(lines) - BLOCK + 1)}
        found.update(block for block in blocks if not CLOSING.fullmatch(block))
    again = [block for block, count in found.items() if count > MOST_COPIES]
    assert again == [], "\n\n".join(again)


def test_a_form_of_the_phone_is_sent_by_its_script_alone() -> None:
    """`method=dialog` outside a dialog does nothing (HTML standard, form submission)."""
    for name, text in PAGES.items():
        if name.startswith("field/"):
            for form in re.findall(r"<form\b[^>]*>", text):
                assert 'method="dialog"' in form or "action=" in form, (name, form)
