"""A count and its noun agree, 1 file and 2 files: in the sources, and on every page of the demo."""

import json
import re
import subprocess
from collections import Counter
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.language.words import counted, noun
from app.paths import STATIC
from tests.paths import ROOT
from tests.web.sweep import Pages, steward_of

# what Sillbook counts
NOUNS = (
    "answer", "candidate", "change", "check", "column", "conflict", "correction", "count",
    "day", "description", "difference", "entry", "file", "flume", "form", "gap", "gauging",
    "head", "item", "layer", "level", "limit", "line", "logger", "mark", "mean", "month",
    "observer", "pair", "page", "panel", "person", "phone", "photo", "picture", "plan", "point",
    "problem", "question", "rating", "reading", "repeat", "row", "run", "season", "setup", "sheet",
    "site", "stop", "structure", "take", "time", "value", "vertical", "visit", "week", "year",
    "zero",
)  # fmt: skip
MANY = [noun(2, one) for one in NOUNS]
PLURALS = "|".join(sorted(MANY, key=len, reverse=True))
# "2 head readings": the noun goes on
ADJECTIVES = tuple(f" {word}" for word in ("reading", "point", "file", "run", "gauging", "word"))
SINGULARS = "|".join(sorted(NOUNS, key=len, reverse=True))

# a placeholder right before a plural: in a template, in Python, in JavaScript
TEMPLATE = re.compile(r"(\{\{[^{}]*\}\}) (?:\w+ )?(" + PLURALS + r")\b")
PYTHON = re.compile(r"(?<!\{)(\{[^{}]+\}) (?:\w+ )?(" + PLURALS + r")\b")
SCRIPT = re.compile(r"(\$\{[^{}]+\}) (?:\w+ )?(" + PLURALS + r")\b")
# is never one: a bound, a figure with decimals, the whole of which some are counted
NEVER_ONE = {
    "{MOST_DAYS} days", "{MOST} lines", "{MOST_ENTRIES} entries", "{FEW} gaugings",
    "{HEAD_LIMIT:g} times", "{float(factor):g} times", "{counts} days", "{count} gaugings",
    "{(to_s - from_s) / DAY_S:.1f} days", "{(before.to_s - before.from_s) / DAY_S:.1f} days",
    "{len(doubt.others)} corrections", "{len(doubt.others)} entries",
    "{len(rows)} readings",
    "{counted(len(self.turning), 'answer')} of takes", "{{ holding | length }} limits",
    "${mine.length} times",
    "{CARRIED_BY} persons", "{weight.persons} persons", "{DAYS} days", "{OLD_DAYS} days",
    "{days} days", "{count} loggers", "{TOKEN_DAYS} days", "{MOST_MEMBERS} files",
    "${sums.n} readings", "${trace.length} readings", "{table.fields} columns",
}  # fmt: skip
# is no count
NO_COUNT = {
    "{{ s.kind }} points", "{field} points", "${field} points", "{name} counts", "${name} counts",
    "{point.get('counts')} counts",
}  # fmt: skip


def sources(top: str, ending: str) -> list[Path]:
    return [p for p in sorted((ROOT / top).rglob(f"*{ending}")) if "vendor" not in p.parts]


@pytest.mark.parametrize(
    ("top", "ending", "pattern"),
    [("templates", ".html", TEMPLATE), ("app", ".py", PYTHON), ("static", ".js", SCRIPT)],
)
def test_a_count_is_written_by_the_rule_of_plurals(
    top: str, ending: str, pattern: re.Pattern[str]
) -> None:
    found = []
    for path in sources(top, ending):
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1):
            found += [
                f"{path.relative_to(ROOT)}:{number}: {hit.group()}"
                for hit in pattern.finditer(line)
                if hit.group() not in NEVER_ONE | NO_COUNT
            ]
    assert found == []


WRONG = re.compile(
    rf"(?<![\d.,:/\u202f-])(?:1 (?:\w+ )?(?P<many>{PLURALS})"
    rf"|(?:0|[2-9]|[1-9]\d+|[1-9]\d{0, 2}(?:,\d{3})+) (?P<one>{SINGULARS}))(?![\w-])"
)


def seen_text(html: str) -> str:
    """Return what is read on a page: tags and scripts left out, cells apart."""
    html = re.sub(r"<(script|style|svg)\b.*?</\1>", " ", html, flags=re.DOTALL)
    html = re.sub(r"</?(a|strong|em|b|span|kbd)\b[^>]*>", "", html)
    return re.sub(r"[ \t\n]+", " ", re.sub(r"<[^>]+>", " | ", html))


def test_the_sieve_sees_what_is_wrong_and_lets_the_rest_pass() -> None:
    for wrong in ("1 files", "of <b>1</b> readings", "2 file", "1 other days", "12 entry"):
        assert WRONG.search(seen_text(wrong)), wrong
    for right in ("1 file", "2 files", "0.1 readings", "21 days", "2 head readings", "1 day",
                  "2026-11-01 days", "<td>1</td><td>files</td>", "4 m"):  # fmt: skip
        found = WRONG.search(seen_text(right))
        assert found is None or right == "2 head readings", right


def test_every_page_of_the_demo_counts_right(tmp_path: Path) -> None:
    app, client = steward_of(f"sqlite:///{tmp_path / 'demo.sqlite3'}", tmp_path)
    waiting, seen, found = ["/", "/review", "/people", "/audit", "/takes"], set(), []
    shapes: Counter[str] = Counter()
    try:
        while waiting:
            address = waiting.pop(0)
            path = urlsplit(address).path
            shape = re.sub(r"/([0-9a-f]{8}-[0-9a-f-]{27}|[0-9a-f]{64}|\d+)(?=/|$)", "/N", path)
            leaves = re.match(r"/(sign-|static|field)|.*\.(csv|json)$", path)
            if address in seen or leaves or shapes[shape] >= 4:
                continue
            seen.add(address)
            shapes[shape] += 1
            answer = client.get(address, headers={"accept": "text/html"})
            if "html" not in answer.headers.get("content-type", ""):
                continue
            page = Pages()
            page.feed(answer.text)
            waiting += [
                (path + link if link.startswith("?") else link).split("#")[0] for link in page.links
            ]
            text = seen_text(answer.text)
            found += [
                f"{address}: …{text[max(0, hit.start() - 30) : hit.end() + 20]}…"
                for hit in WRONG.finditer(text)
                if not (hit["one"] and text[hit.end() :].startswith(ADJECTIVES))
                and "1 horizontal to" not in text[hit.start() - 20 : hit.start()]
            ]
    finally:
        app.state.engine.dispose()
    assert len(shapes) > 35, sorted(shapes)
    assert found == []


@given(st.integers(0, 10**7), st.sampled_from(NOUNS))
def test_one_and_many(count: int, one: str) -> None:
    figure, _, said = counted(count, one).partition(" ")
    assert int(figure.replace(",", "")) == count
    assert (said == one) == (count == 1)


def test_the_phone_counts_as_the_office_does() -> None:
    asked = [(n, one, noun(2, one)) for n in (0, 1, 2, 11, 21) for one in NOUNS]
    script = (
        "import { counted } from '/STATIC/shared/counted.js';"
        "const asked = JSON.parse(process.argv[1]);"
        "console.log(JSON.stringify(asked.map((one) => counted(...one))));"
    ).replace("/STATIC", STATIC.as_uri())
    said = subprocess.run(
        ["node", "--input-type=module", "-e", script, json.dumps(asked)],
        capture_output=True, text=True, check=True,
    ).stdout  # fmt: skip
    assert json.loads(said) == [counted(n, one) for n, one, _ in asked]
