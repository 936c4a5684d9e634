"""Three worked examples for scripts: the very text that the page shows and that a test runs."""

import json
import shlex
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from app.language.clock import iso
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.sync.protocol import PROTOCOL

SENT_READING: dict[str, Any] = {
    "id": "0f8fad5b-d9cb-469f-a165-70867728950e",
    "kind": "head_reading",
    "site_id": 1,
    "structure_id": 1,
    "observed_at": "2026-07-01T09:30:00Z",
    "utc_offset_min": 60,
    "by": 1,
    "saved_at": "2026-07-01T09:31:00Z",
    "body": {"staff_m": [0.112, 0.113, 0.113]},
}


@dataclass(frozen=True)
class Example:
    """One task: what it is, and how it is done from a shell and in Python."""

    words: str
    told: str
    shell: str
    python: str


def reading_now(person: Person, site: Site, structure: Structure, now: datetime) -> dict[str, Any]:
    """Return a head reading of one minute ago, with an id of its own."""
    return SENT_READING | {
        "id": str(uuid4()),
        "site_id": site.id,
        "structure_id": structure.id,
        "observed_at": iso(now - timedelta(minutes=1)),
        "utc_offset_min": site.utc_offset_min,
        "by": person.id,
        "saved_at": iso(now),
    }


HEAD = 'import json, os, urllib.request\n\nshown = {"Authorization": "Bearer " + os.environ["SILLBOOK_TOKEN"]}\n'  # noqa: E501
BEARER = '-H "Authorization: Bearer $SILLBOOK_TOKEN"'


def examples(base: str, site: Site, entry: dict[str, Any]) -> list[Example]:
    """Return the three examples for a server, a site and an entry.

    Parameters
    ----------
    base
        Address of the server, without a slash behind.
    site
        The site whose readings are fetched.
    entry
        The entry that is sent; the same id again is answered "already_held".
    """
    lists = f"{base}/sites.json"
    readings = f"{base}/sites/{site.id}/readings.csv?from=2026-01-01"
    batch = json.dumps({"protocol": PROTOCOL, "phone": "script", "entries": [entry]}, indent=2)
    sync = f"{base}/sync"
    return [
        Example(
            "Every site with its last discharge",
            "A list in JSON: name, columns, units, who made it, rows.",
            f"curl --fail --silent {BEARER} \\\n  {lists}",
            f'{HEAD}asked = urllib.request.Request("{lists}", headers=shown)\n'
            "with urllib.request.urlopen(asked) as answer:\n"
            '    for row in json.load(answer)["rows"]:\n'
            '        print(row["code"], row["last_discharge_m3s"], row["last_flow"])',
        ),
        Example(
            f"The head readings of {site.name} as a file",
            "A CSV, and beside it what its columns hold: types, units, time zone.",
            f"curl --fail --silent {BEARER} --output readings.csv \\\n  {shlex.quote(readings)}\n"
            f"curl --fail --silent {BEARER} --output readings.csv-metadata.json \\\n"
            f"  {base}/sites/{site.id}/readings.csv-metadata.json",
            f'{HEAD}asked = urllib.request.Request("{readings}", headers=shown)\n'
            'with urllib.request.urlopen(asked) as answer, open("readings.csv", "wb") as file:\n'
            "    file.write(answer.read())",
        ),
        Example(
            "Send a head reading",
            "Needs a token that may write. Put in your own figures: as it stands it stores a "
            "reading that nobody read. The id is yours: sent again after a lost answer it is "
            "already_held, not stored twice. Each entry has its own receipt.",
            f"curl --fail --silent {BEARER} \\\n"
            f"  -H 'Content-Type: application/json' --data-binary @- \\\n"
            f"  {sync} <<'END'\n{batch}\nEND",
            f'{HEAD}batch = json.loads("""{batch}""")\n'
            'shown["Content-Type"] = "application/json"\n'
            f'asked = urllib.request.Request("{sync}", json.dumps(batch).encode(), shown)\n'
            "with urllib.request.urlopen(asked) as answer:\n"
            '    for receipt in json.load(answer)["receipts"]:\n'
            '        print(receipt["id"], receipt["state"], receipt["notes"])',
        ),
    ]
