"""One spelling for one quantity in code, files, phone and documents."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
KINDS = {".py", ".js", ".html", ".css", ".md", ".json", ".csv", ".toml"}
OTHER = re.compile(r"discharge_m3_" + r"s|discharge_m3_" + r"per_s", re.IGNORECASE)


def test_discharge_has_one_spelling_everywhere() -> None:
    found = []
    for top in ("app", "static", "templates", "migrations", "tests"):
        for path in sorted((ROOT / top).rglob("*")):
            if path.suffix not in KINDS or "vendor" in path.parts:
                continue
            text = path.read_text(encoding="utf-8")
            found += [f"{path.relative_to(ROOT)}: {m.group()}" for m in OTHER.finditer(text)]
    assert found == []
