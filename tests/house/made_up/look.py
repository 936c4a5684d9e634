"""Run in the copy of the tree, as one who uses it: prints what its pages and lists say, as JSON."""

import json
import sys
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

from fastapi.testclient import TestClient

from app.main import create_app
from app.settings import Settings

HTML = {"accept": "text/html"}


def main(folder: Path, name: str, password: str) -> dict[str, object]:
    app = create_app(Settings.for_folder(folder))
    client = TestClient(app, base_url="http://127.0.0.1", follow_redirects=False)
    assert client.post("/sign-in", data={"name": name, "password": password}).status_code == 303
    site = client.post(
        "/sites",
        data={"code": "SEDGE", "name": "Sedge (invented)", "utc_offset": "+12:00"},
    ).headers["location"]
    place = site.partition("?")[0].rstrip("/")
    number = int(place.rsplit("/", 1)[1])
    found: dict[str, object] = {}
    found["families offered"] = client.get(f"{place}/structures/new", headers=HTML).text
    found["form"] = client.get(f"{place}/structures/new?family=paper_step", headers=HTML).text
    begun = (datetime.now(UTC) - timedelta(days=2)).strftime("%Y-%m-%dT%H:%M")
    made = client.post(
        f"{place}/structures",
        data={
            "name": "Step", "family": "paper_step", "dim.w": "0.5", "valid_from": begun,
            "crest_rl_m": "10", "zero_rl_m": "10", "reason": "made up",
        },
        headers=HTML,
    )  # fmt: skip
    found["structure"] = made.status_code if made.status_code == 303 else made.text
    pack = client.get("/pack").json()
    found["pack"] = pack
    structure = next(s for s in pack["sites"] if s["id"] == number)["structures"][0]
    now = datetime.now(UTC) - timedelta(hours=1)
    entry = {
        "id": str(uuid.uuid4()), "kind": "head_reading", "site_id": number,
        "structure_id": structure["id"], "visit_id": None, "observed_at": now.isoformat(),
        "utc_offset_min": 720, "by": 1, "saved_at": now.isoformat(), "corrects": None,
        "reason": None,
        "body": {"occasion": "during", "staff_m": [0.16],
                 "tailwater": {"state": "clearly_free", "staff_m": None, "text": None}},
    }  # fmt: skip
    omen = {
        **entry, "id": str(uuid.uuid4()), "kind": "omen", "structure_id": None,
        "body": {"seen": "a heron on the crest", "birds": 1},
    }  # fmt: skip
    wrong = {**omen, "id": str(uuid.uuid4()), "body": {"seen": "nothing", "birds": -1}}
    sent = {"protocol": 1, "phone": "made-up", "entries": [entry, omen, wrong]}
    found["receipts"] = client.post("/sync", json=sent).json()
    found["entry page"] = client.get(f"/entries/{omen['id']}", headers=HTML).text
    found["gaugings.csv"] = client.get(f"{place}/gaugings.csv").text
    found["about"] = client.get("/about/numbers", headers=HTML).text
    found["about.json"] = client.get("/about/numbers.json").json()
    found["steps.csv"] = client.get("/steps.csv").text
    found["steps.json"] = client.get("/steps.json").json()
    with TestClient(app, base_url="http://127.0.0.1") as stranger:
        found["stranger"] = stranger.get("/steps.csv").status_code
    return found


if __name__ == "__main__":
    sys.stdout.write(json.dumps(main(Path(sys.argv[1]), sys.argv[2], sys.argv[3])))
