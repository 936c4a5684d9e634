"""Invented logger files for the pages of the long record, and the road of one into it."""

import math
import re
from datetime import datetime, timedelta

from fastapi.testclient import TestClient

HTML = {"accept": "text/html"}
FIRST = datetime(2024, 8, 1)  # noqa: DTZ001 - on the site's clock, UTC+12


def a_file(days: int = 40, *, first: datetime = FIRST, peak_at: int | None = None) -> bytes:
    """Return a file of 15-minute heads in millimetres; one reading may stand out."""
    lines = ["Invented logger file, serial INV-77", "Date time;Head (mm)"]
    for k in range(96 * days):
        head = 250 + 20 * math.sin(k / 96 * 2 * math.pi)
        if k == peak_at:
            head += 90
        stamp = first + timedelta(minutes=15 * k)
        lines.append(f"{stamp:%Y-%m-%d %H:%M};{head:.1f}".replace(".", ","))
    return "\n".join(lines).encode()


def uploaded(client: TestClient, site_id: int, content: bytes, name: str = "inv.csv") -> str:
    """Upload a file and return the address of its look page."""
    answer = client.post(
        f"/sites/{site_id}/loggers/files", files={"file": (name, content, "text/csv")}
    )
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def seen_of(text: str) -> str:
    found = re.search(r'name="seen" value="(\w+)"', text)
    assert found is not None, text[:2000]
    return found[1]


def imported(client: TestClient, site_id: int, structure_id: int, content: bytes) -> str:
    """Import a file by a new logger the way a browser without scripts does; return the answer."""
    path = uploaded(client, site_id, content)
    form = {"logger": "new", "name": "Sensor", "structure_id": str(structure_id), "reads": "crest"}
    seen = seen_of(client.get(path, params=form, headers=HTML).text)
    answer = client.post(path, data={**form, "seen": seen}, headers=HTML)
    assert answer.status_code == 200, answer.text
    return answer.text
