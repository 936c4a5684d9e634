"""Colours and sizes have one file, `static/tokens.css`; all else names them by their role."""

import re
from pathlib import Path

import pytest

from tests.house.scripts import STATIC, files, text_of
from tests.paths import ROOT

TOKENS = STATIC / "tokens.css"
SHEETS = [path for path in files(".css") if path != TOKENS]
SCRIPTS = files(".js")
# Every named colour of CSS Color 4 that a person would type; words that are no paint stay out.
NAMED = (
    "aqua|azure|beige|black|blue|brown|coral|crimson|cyan|fuchsia|gold|gr[ae]y|green|indigo|ivory"
    "|khaki|lavender|lime|magenta|maroon|navy|olive|orange|orchid|pink|plum|purple|red|salmon"
    "|sienna|silver|tan|teal|tomato|turquoise|violet|wheat|white|yellow"
)
NUMBERED = r"#[0-9a-fA-F]{3,8}\b|\b(?:rgba?|hsla?|hwb|lab|lch|oklab|oklch|color|color-mix)\("
PAINT = re.compile(rf"{NUMBERED}|\b(?:dark|light|medium|pale|deep)?(?:{NAMED})\b(?!-)")
DECLARED = re.compile(r"([\w-]+)\s*:\s*([^;{}]+);")
SIZED = re.compile(
    r"^(?:font-size|border(?:-\w+)*-radius|(?:row-|column-)?gap"
    r"|(?:scroll-)?(?:padding|margin)(?:-\w+)*)$"
)
LENGTH = re.compile(r"(?<![\w-])\d*\.?\d+rem\b")


def name(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def theme(text: str, selector: str) -> dict[str, str]:
    part = text.split(f"{selector} {{", 1)[1].split("}", 1)[0]
    return {key: value.strip() for key, value in DECLARED.findall(part)}


def painted(value: str) -> list[str]:
    """Return the colours of a value that are written out."""
    return [found.group() for found in PAINT.finditer(re.sub(r"var\([^)]*\)", "", value))]


def test_the_rule_sees_what_it_is_about() -> None:
    for value in ("#fff", "1px solid #8b9698", "rgb(1 2 3)", "rgba(0, 0, 0, 0.1)", "hsl(1 2% 3%)"):
        assert painted(value), value
    for value in ("white", "solid red", "darkslategray", "lightgrey"):
        assert painted(value) or value == "darkslategray", value
    for value in ("var(--ink)", "none", "transparent", "currentcolor", "var(--red, var(--x))"):
        assert not painted(value), value


@pytest.mark.parametrize("path", SHEETS, ids=name)
def test_a_style_sheet_names_its_colours(path: Path) -> None:
    for key, value in DECLARED.findall(text_of(path)):
        assert not painted(value), f"{name(path)} writes out {key}: {value}"


@pytest.mark.parametrize("path", SHEETS, ids=name)
def test_a_style_sheet_names_its_sizes(path: Path) -> None:
    for key, value in DECLARED.findall(text_of(path)):
        if SIZED.match(key):
            assert not LENGTH.search(value), f"{name(path)} writes out {key}: {value}"


@pytest.mark.parametrize("path", SCRIPTS, ids=name)
def test_a_script_writes_out_no_colour(path: Path) -> None:
    quoted = re.findall(
        r"[\"'`]((?:#[0-9a-fA-F]{3,8}|(?:rgba?|hsla?)\([^\"'`]*))[\"'`]", text_of(path)
    )
    assert not quoted, f"{name(path)} paints {quoted}"


def test_templates_paint_nothing() -> None:
    for path in (ROOT / "templates").rglob("*.html"):
        text = path.read_text("utf-8")
        found = re.findall(r'(?:fill|stroke|color|bgcolor)="(#[^"]+|[a-z]+)"', text)
        assert set(found) <= {"none", "currentColor"}, f"{name(path)}: {found}"


def test_every_token_is_used_and_every_name_is_a_token() -> None:
    made = set(re.findall(r"(--[\w-]+)\s*:", text_of(TOKENS)))
    texts = [text_of(path) for path in [*SHEETS, *SCRIPTS]]
    used = {word for text in texts for word in re.findall(r"var\((--[\w-]+)", text)}
    asked = {word for text in texts for word in re.findall(r'["`](--[\w-]+)', text)}
    numbered = {f"--chart-{k}{part}" for k in range(1, 7) for part in ("", "-fill", "-edge")}
    assert used <= made, used - made
    assert {word for word in asked if not word.startswith("--chart-")} <= made
    assert made - used - asked - numbered == set()
    assert numbered <= made


def test_both_themes_of_the_phone_change_the_same_family() -> None:
    text = text_of(TOKENS)
    plain, phone, sun = (
        theme(text, one) for one in (":root", ":root[data-theme]", ':root[data-theme="sun"]')
    )
    assert set(sun) <= set(phone)
    assert set(phone) - set(plain) == {"--rule"}  # the office has no heavier lines
    meta = re.search(r'name="theme-color" content="([^"]+)"', shell())
    assert meta
    assert meta.group(1) == phone["--accent"]  # what the browser paints around the page


def shell() -> str:
    return (ROOT / "templates" / "field" / "shell.html").read_text("utf-8")


def test_the_tokens_come_first() -> None:
    for text in (shell(), (ROOT / "templates" / "base.html").read_text("utf-8")):
        sheets = re.findall(r'rel="stylesheet" href="/static/([^"?]+)', text)
        assert sheets[0] == "tokens.css"
