"""Invented plans of visits and an invented register of instruments for the demonstration."""

from datetime import datetime, timedelta
from typing import Any

from sqlmodel import Session, select

from app.records.people import Person
from app.records.sites import Site
from app.services.equipment import calibrations, enter
from app.services.visits import plans

# site code: the plan as its form says it; one site is left without an interval, to show it
PLANS: dict[str, dict[str, str]] = {
    "TANSY": {
        "interval_days": "14", "season_begins": "09-01", "season_ends": "04-30",
        "outside_days": "28", "round": "upper race (invented)", "who": "0",
        "to_do": "Clear the rack, read as found and as left, download the logger (invented)",
        "access": "Track from the lower gate, key 4; tell the dairy before you cross (invented)",
    },
    "MARROW": {
        "interval_days": "7", "season_begins": "09-01", "season_ends": "04-30",
        "round": "upper race (invented)", "who": "1",
        "to_do": "Cut weed below the tail, read as found and as left (invented)",
        "access": "Foot bridge only, not in flood (invented)",
    },
}  # fmt: skip

# kind, description, serial, interval, place, site, person, days since calibration, outcome, rest
KIT: list[dict[str, Any]] = [
    {
        "kind": "current_meter", "described": "Propeller meter, small (invented)",
        "serial": "invented 7", "interval_days": "730", "place": "store", "words": "shelf 2",
        "days": 800, "outcome": "adjusted", "by_whom": "Towing tank (invented)",
        "coefficients": "slope: 0.2519 m\noffset: 0.0052 m/s", "result": "new equation (invented)",
    },
    {
        "kind": "conductivity_probe", "described": "Conductivity meter, hand-held (invented)",
        "serial": "invented 3", "interval_days": "365", "place": "person", "who": 1,
        "days": 120, "outcome": "fit", "by_whom": "Own check in two standards (invented)",
        "coefficients": "cell constant: 0.98 1/cm", "result": "within 1 % (invented)",
    },
    {
        "kind": "level", "described": "Automatic level (invented)", "serial": "invented L1",
        "interval_days": "90", "place": "store", "words": "level case, shelf 1", "days": 65,
        "outcome": "fit", "by_whom": "Two-peg test at the yard (invented)",
        "result": "+0.012 mm per m (invented)",
    },
    {
        "kind": "logger", "described": "Pressure logger (invented)", "serial": "invented P12",
        "interval_days": "365", "place": "site", "site": "TANSY", "words": "stilling well",
        "days": 345, "outcome": "fit", "by_whom": "Bench check in a tube (invented)",
        "result": "within 2 mm to 1 m (invented)",
    },
    {
        "kind": "staff", "described": "Enamel staff, 1 m (invented)", "serial": "",
        "interval_days": "", "place": "site", "site": "MARROW", "words": "left wing wall",
    },
]  # fmt: skip


def build(session: Session, crew: list[Person], office: Person, now: datetime) -> None:
    """State the plans and enter the instruments through the office's own forms."""
    sites = {site.code: site for site in session.exec(select(Site))}
    for code, said in PLANS.items():
        form = {key: value for key, value in said.items() if key != "who"}
        form |= {
            "person_id": str(crew[int(said["who"])].id),
            "valid_from": str((now - timedelta(days=400)).date()),
            "reason": "invented for the demonstration",
        }
        plans.add_plan(session, sites[code].id or 0, form, office, now)
    for one in KIT:
        days = one.get("days", 30)
        form = {key: str(value) for key, value in one.items() if key not in ("who", "site")}
        form |= {
            "since": str((now - timedelta(days=days - 1)).date()),
            "site_id": str(sites[one["site"]].id) if "site" in one else "",
            "person_id": str(crew[one["who"]].id) if "who" in one else "",
            "note": "invented",
        }
        made = enter.add_instrument(session, form, office, now)
        if "outcome" in one:
            form["on_day"] = str((now - timedelta(days=days)).date())
            calibrations.add_calibration(session, made, form, office, now)
    session.commit()
