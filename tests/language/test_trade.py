"""Words that are chosen from exist once: the phone's own tables and the stored keys equal them."""

import json
import re
import subprocess
from typing import Any, get_args

import pytest

from app.hydraulics.structure.states import _FLAG_WORDS, _FLOW_WORDS, Flag
from app.language import trade
from app.paths import STATIC
from app.services.entries import kinds
from app.services.entries.bodies.base import Tailwater, WaterCondition
from app.services.entries.bodies.survey import Benchmark, SeepState
from app.services.review.items import KINDS
from tests.paths import ROOT

FIELD = STATIC / "field"


def on_the_phone(file: str, *names: str) -> Any:
    """Return the last of these constants of a module of the phone, evaluated by node."""
    text = (FIELD / file).read_text("utf-8")
    parts = [
        re.search(rf"^(?:export )?const {name} = (.*?);$", text, re.M | re.S) for name in names
    ]
    script = "".join(
        f"const {name} = {found[1]};"
        for name, found in zip(names, parts, strict=True)
        if found is not None
    )
    script += f"console.log(JSON.stringify({names[-1]}));"
    return json.loads(subprocess.check_output(["node", "-e", script], text=True))


def lower(words: dict[str, str]) -> dict[str, str]:
    return {key: word.lower() for key, word in words.items()}


@pytest.mark.parametrize(
    ("file", "name", "table"),
    [
        ("gauging/result.js", "PART_WORDS", trade.GAUGING_PARTS),
        ("install/parts.js", "CORNER_WORDS", trade.CORNERS),
        ("levels/marks_form.js", "MARK_WORDS", trade.MARKS),
        ("opening/entry.js", "SEEPS", trade.SEEPS),
    ],
)
def test_the_phone_says_the_words_of_the_office(
    file: str, name: str, table: dict[str, str]
) -> None:
    said = on_the_phone(file, name)
    assert lower(said) == lower(table)
    assert list(said) == list(table)


def test_lists_of_the_phone_equal_the_offices() -> None:
    assert on_the_phone("opening/entry.js", "SEEP_STATES") == [
        s for s in get_args(SeepState) if s != "not looked at"
    ]
    assert on_the_phone("levels/reduce.js", "CORNERS") == list(trade.CORNERS)
    assert on_the_phone("sums/install.js", "CORNERS") == list(trade.CORNERS)
    points = dict(pair[:2] for pair in on_the_phone("levels/book.js", "POINTS"))
    assert set(trade.CORNERS) <= set(points)


def test_flags_of_the_phone_are_the_offices_in_its_order() -> None:
    said = on_the_phone("reading/assess.js", "UNUSUAL", "FLAG_ORDER")
    office = list(_FLAG_WORDS.values())
    assert set(said) <= set(office)
    places = [office.index(word) for word in said]
    assert places == sorted(places)
    assert set(_FLAG_WORDS) == set(Flag)


def test_flow_words_on_the_phone_are_the_offices() -> None:
    """Each answer of flow that a module of the phone writes out is one of the office's."""
    office = set(_FLOW_WORDS.values())
    found = set()
    for path in FIELD.rglob("*.js"):
        text = path.read_text("utf-8")
        found |= set(
            re.findall(r'"((?:assumed |not )?free|submerged[^"]*|no flow|not rated)"', text)
        )
    assert found <= office | {"submerged"}, found - office
    assert {"free", "assumed free", "submerged, corrected"} <= found


def test_every_kind_of_entry_has_one_name() -> None:
    phone = on_the_phone("base/kinds.js", "KINDS")
    assert set(phone) == set(kinds.BODIES) - {"withdrawal"}
    for kind, said in phone.items():
        assert said["words"].lower() == kind.replace("_", " ")


def test_stored_keys_are_those_of_the_tables() -> None:
    assert get_args(WaterCondition) == trade.WATER
    assert get_args(kinds.Condition) == trade.VISIT
    assert set(get_args(Tailwater.model_fields["state"].annotation)) == set(trade.TAILWATER)
    occasion = kinds.HeadReading.model_fields["occasion"].annotation
    assert set(get_args(occasion)) == set(trade.OCCASIONS)
    assert set(get_args(Benchmark.model_fields["mark"].annotation)) == set(trade.MARKS)


def test_no_form_and_no_page_writes_a_list_out_again() -> None:
    for path in sorted((ROOT / "templates").rglob("*.html")):
        text = path.read_text("utf-8")
        for words in (trade.TAILWATER["clearly_free"], trade.MARKS["bolt"], '"weed", "debris"'):
            assert words not in text, f"{path} writes out {words}"
    for path in sorted((ROOT / "app").rglob("*.py")):
        if path.name not in {"trade.py", "base.py", "kinds.py"}:
            text = path.read_text("utf-8")
            for words in (trade.TAILWATER["clearly_free"], '"weed", "debris", "silt", "ice", "s'):
                assert words not in text, f"{path} writes out {words}"


def test_every_kind_of_item_in_review_has_its_words() -> None:
    made = set()
    for path in sorted((ROOT / "app" / "services" / "review").glob("*.py")):
        text = path.read_text("utf-8")
        made |= set(re.findall(r'kind="([a-z]+)",', text))
    assert made
    assert made <= set(KINDS)
