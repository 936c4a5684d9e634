"""One word, one thing: retired words do not come back in code, pages, phone or addresses.

*Record* is the long record only; what a person sends is an *entry*. Head readings are readings,
check gaugings are gaugings; a rating is tested, an entry is corrected, a series has layers.
"""

import re
from collections.abc import Iterator

import pytest

from tests.paths import ROOT

KINDS = {".py", ".js", ".html", ".css"}
# the table of old addresses is where old words may stand; files that people import carry any word
LEFT_OUT = {"app/web/moved.py"}

RETIRED = {
    r"check-gaugings": "gaugings",
    r"\bgauging[- ]records?\b": "head readings",
    r"\bgaugings\.csv\b(?=.*\bhead reading)": "readings.csv",
    r"(?i)\bstanding of (the|a|this) rating\b|\brating's standing\b": "a rating is tested",
    r"\bstanding-tests\b|structures/[^\"'\s]*/standing\b|\bstanding\.(csv|json)\b": "rating-tests",
    r"structures/[^\"'\s]*/corrections\b|\bcorrections\.(csv|json)\b": "layers",
    r"(?i)\bcorrections?[- ]offered\b(?!:)": "layers offered",
    r"(?i)\bcorrections (in force|over the)\b": "layers in force",
    r"\bsites/[^\"'\s]*/daily\.(csv|json)\b": "daily-readings.csv",
    r"(?i)\b(refused|stored|doubled|unsent|waiting|outbox|phone|field|own) records?\b": "entry",
    r"(?i)\brecords? (of somebody else|of its own|of another (kind|site)|correct each other)":
        "entry",
    r"\bdrop visible\b": "drop seen",
    r"take-alerts|sillbook-(daily|series)": "takes, daily, series",
}  # fmt: skip
# on the phone, where *record* is not an entry: the verb, and the long record itself
LONG = re.compile(
    r"fit to record|read or record|Record something|station records|into the record|of the record"
    r"|records one|`record`",
    re.IGNORECASE,
)


def sources(*tops: str) -> Iterator[tuple[str, str]]:
    for top in tops:
        for path in sorted((ROOT / top).rglob("*")):
            name = path.relative_to(ROOT).as_posix()
            if path.suffix in KINDS and "vendor" not in path.parts and name not in LEFT_OUT:
                yield name, path.read_text("utf-8")


@pytest.mark.parametrize("pattern", RETIRED)
def test_a_retired_word_does_not_come_back(pattern: str) -> None:
    found = [
        f"{name}:{number}: {line.strip()[:120]}"
        for name, text in sources("app", "templates", "static")
        for number, line in enumerate(text.splitlines(), 1)
        if re.search(pattern, line)
    ]
    assert not found, f"say {RETIRED[pattern]}:\n" + "\n".join(found)


def said(name: str, text: str) -> Iterator[str]:
    """Give what a module says in words: its comments and its texts, not its names."""
    if name.endswith(".html"):
        text = re.sub(r"\{[{%#].*?[}%#]\}", " ", text, flags=re.DOTALL)
        yield from re.sub(r"<[^>]*>", "\n", text).splitlines()
        return
    for line in text.splitlines():
        if re.match(r"\s*(\*|//|/\*)", line):
            yield line
        else:
            yield from re.findall(r'"[^"]*"', line)
            for part in re.findall(r"`[^`]*`", line):
                yield re.sub(r"\$\{[^}]*\}?", " ", part)


def test_what_the_phone_holds_is_an_entry() -> None:
    found = []
    for name, text in sources("static/field", "templates/field"):
        for words in said(name, text):
            a_name = re.search(r"\brecord\}|\{[^}]*\brecord\b", words)  # in a shape of an object
            if re.search(r"\brecords?\b", LONG.sub("", words), re.IGNORECASE) and not a_name:
                found.append(f"{name}: {words.strip()[:120]}")
    assert not found, "\n".join(found)


def test_every_retired_word_would_be_seen() -> None:
    seen = {
        "/sites/1/check-gaugings.csv", "gauging records", "Standing of the rating",
        '"/structures/1/standing"', '"/structures/1/corrections"', "corrections offered",
        "corrections in force", '"/sites/1/daily.csv"', "refused records", "a record of its own",
        "drop visible", "take-alerts", "write gaugings.csv, one row a head reading",
    }  # fmt: skip
    for pattern in RETIRED:
        assert any(re.search(pattern, words) for words in seen), pattern
