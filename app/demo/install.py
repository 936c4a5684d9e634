"""Demo of planning, levels and setting: invented runs, stops and pictures, from a fixed seed.

Upper Gorsegate is half way through its install; Tansy Hollow is levelled again; Marrowfen has been
opened and signed for, with what is outside tolerance listed.
"""

import hashlib
import io
import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw
from sqlmodel import Session, select

from app.demo import entries as demo_entries
from app.language.clock import iso
from app.language.forms import local_text
from app.records.people import Person
from app.records.sites import Site, Structure
from app.services.entries import kept_files
from app.services.install import sheet as commissioning
from app.services.plans import make as planning

SCENARIO = json.loads(Path(__file__).with_name("install.json").read_text("utf-8"))
SEED = 20_261_125
PICTURE = (960, 720)


class Story:
    """Collects the entries of one site and sends them as their author's phone would."""

    def __init__(self, session: Session, code: str, by: Person, now: datetime) -> None:
        self.session, self.by, self.now = session, by, now
        self.site = session.exec(select(Site).where(Site.code == code)).one()
        self.structure = session.exec(
            select(Structure).where(Structure.site_id == self.site.id)
        ).first()
        assert self.structure is not None
        assert self.structure.id is not None
        self.rng = np.random.default_rng([SEED, *code.encode()])
        self.entries: list[dict[str, Any]] = []

    @property
    def structure_id(self) -> int:
        assert self.structure is not None
        assert self.structure.id is not None
        return self.structure.id

    def at(self, days_ago: float, minutes: float = 0.0) -> datetime:
        """Return an instant some days ago, in the site's forenoon."""
        day = (self.now - timedelta(days=days_ago)).replace(hour=21, minute=0, second=0)
        return day.replace(microsecond=0) - timedelta(days=1) + timedelta(minutes=minutes)

    def add(self, kind: str, at: datetime, body: dict[str, Any]) -> dict[str, Any]:
        one = demo_entries.entry(
            self.rng,
            kind,
            site=self.site,
            structure=self.structure,
            by=self.by,
            at=at,
            visit_id=None,
            body=body,
        )
        self.entries.append(one)
        return one

    def photo(self, of: dict[str, Any], at: datetime, caption: str, place: str) -> None:
        """Add a drawn picture that says it is invented, and keep its bytes."""
        content = picture(caption, place, self.rng)
        sha256 = hashlib.sha256(content).hexdigest()
        self.add("photo", at, {
            "sha256": sha256, "caption": f"{caption} (invented)", "place": place, "of": of["id"],
            "width_px": PICTURE[0], "height_px": PICTURE[1], "bytes": len(content),
        })  # fmt: skip
        kept_files.keep(
            self.session,
            self.by,
            "photo",
            name=f"{caption}.jpg",
            sent_sha256=sha256,
            content=content,
            received_at=self.now,
        )

    def send(self) -> None:
        demo_entries.send(self.session, self.entries, [self.by])
        self.entries = []


def picture(caption: str, place: str, rng: np.random.Generator) -> bytes:
    """Return a JPEG drawn from nothing: sky, bank, trench and box, marked invented."""
    wide, high = PICTURE
    image = Image.new("RGB", PICTURE, (196, 208, 214))
    draw = ImageDraw.Draw(image)
    horizon = int(high * 0.32)
    hills = [(x, horizon - int(rng.integers(10, 90))) for x in range(0, wide + 80, 80)]
    draw.polygon([(0, horizon), *hills, (wide, horizon)], fill=(122, 139, 118))
    draw.rectangle((0, horizon, wide, high), fill=(139, 122, 92))
    for _ in range(400):
        x, y = int(rng.integers(0, wide)), int(rng.integers(horizon, high))
        shade = int(rng.integers(-18, 18))
        draw.ellipse((x, y, x + 9, y + 5), fill=(139 + shade, 122 + shade, 92 + shade))
    draw.polygon(
        [(250, high), (390, horizon + 60), (570, horizon + 60), (710, high)], fill=(84, 72, 54)
    )
    draw.polygon([(330, high - 60), (420, horizon + 120), (540, horizon + 120), (630, high - 60)],
                 fill=(168, 174, 178), outline=(60, 66, 70))  # fmt: skip
    draw.line([(480, high - 60), (480, horizon + 120)], fill=(60, 66, 70), width=3)
    draw.rectangle((0, high - 74, wide, high), fill=(22, 34, 43))
    draw.text((24, high - 62), f"INVENTED PICTURE: {caption}", fill=(255, 255, 255), font_size=26)
    draw.text((24, high - 30), place, fill=(217, 233, 233), font_size=20)
    out = io.BytesIO()
    image.save(out, "JPEG", quality=80)
    return out.getvalue()


def build(session: Session, crew: list[Person], office: Person, now: datetime) -> None:
    """Add the three stories; the caller has built sites, ratings and zeros."""
    gorsegate(session, crew[0], office, now)
    tansy(session, crew[1], now)
    marrowfen(session, crew[0], office, now)


def gorsegate(session: Session, by: Person, office: Person, now: datetime) -> None:
    story = Story(session, "GORSE", by, now)
    told = SCENARIO["gorsegate"]
    assert office.id is not None
    assert story.site.id is not None
    plan = planning.add_plan(session, story.site.id, told["plan"], office.id)
    assert plan.id is not None
    choice = {
        "candidate": "0",
        "structure_id": str(story.structure_id),
        "valid_from": local_text(story.at(20), story.site.utc_offset_min),
        "reason": told["why"],
    }
    planning.choose(session, plan.id, choice, office.id)
    session.commit()
    for mark in told["benchmarks"]:
        at = story.at(22, mark["minutes"])
        one = story.add("benchmark", at, mark["body"])
        story.photo(one, at + timedelta(minutes=2), f"Benchmark {mark['body']['name']}",
                    mark["body"]["place"])  # fmt: skip
    for stop in told["stops"]:
        at = story.at(stop["days_ago"], stop["minutes"])
        one = story.add("install_stop", at, stop["body"])
        for number, caption in enumerate(stop["photos"], 1):
            story.photo(one, at + timedelta(minutes=number), caption, "at the structure")
    story.add("dimension_check", story.at(6, 95), told["dimensions"])
    story.send()


def tansy(session: Session, by: Person, now: datetime) -> None:
    story = Story(session, "TANSY", by, now)
    told = SCENARIO["tansy"]
    for mark in told["benchmarks"]:
        at = story.at(735, mark["minutes"])
        one = story.add("benchmark", at, mark["body"])
        story.photo(one, at + timedelta(minutes=2), f"Benchmark {mark['body']['name']}",
                    mark["body"]["place"])  # fmt: skip
    for run in told["runs"]:
        story.add("level_run", story.at(run["days_ago"]), run["body"])
    story.send()


def marrowfen(session: Session, by: Person, office: Person, now: datetime) -> None:
    story = Story(session, "MARROW", by, now)
    told = SCENARIO["marrowfen"]
    begin = story.at(725)
    story.add("dimension_check", begin, told["dimensions"])
    opened = begin + timedelta(days=1)
    body = json.loads(json.dumps(told["opening"]))
    for row in (*body["gate"], *body["heads"]):
        row["at"] = iso(opened + timedelta(minutes=row.pop("minutes")))
    body["sensor"]["at"] = iso(opened + timedelta(minutes=58))
    right = opened + timedelta(minutes=60)
    body["clock"] = {
        "right": iso(right),
        "before": iso(right + timedelta(seconds=95)),
        "after": iso(right),
    }
    body["fit_from"] = iso(opened + timedelta(minutes=75))
    one = story.add("opening", opened, body)
    story.photo(one, opened + timedelta(minutes=50), "Water over the throat", "from the bank")
    story.send()
    offset = story.site.utc_offset_min
    signature = {
        "fit_from": local_text(opened + timedelta(minutes=75), offset),
        "signed_name": office.name,
        "words": told["words"],
    }
    commissioning.sign(
        session, story.structure_id, signature, office, opened + timedelta(minutes=90)
    )
    session.commit()
