"""One stored reading of the long record with everything it rests on, and what can lie beside it."""

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.hydraulics.base.units import DAY_S
from app.hydraulics.series.layers import How
from app.hydraulics.structure.device import Flag, Flow, flag_words
from app.language import words
from app.records.sensors import SeriesBlock
from app.records.sites import Site, Structure
from app.services.days import daily
from app.services.series import read as series_read
from app.services.series.months import instant
from app.services.sites.structures import place

COLUMNS = (
    "discharge_m3s", "uncertainty_pct", "head_m", "raw_m", "tailwater_m", "how", "flow", "flags",
)  # fmt: skip
USUAL_DAYS = 92


@dataclass(frozen=True)
class Other:
    """Another structure with a record."""

    id: int
    label: str


def others(session: Session, structure_id: int) -> list[Other]:
    """Return the other structures that have a record, to be laid over this one."""
    held = sa.select(col(SeriesBlock.structure_id)).distinct()
    found = session.exec(
        select(Structure, Site)
        .where(
            Structure.site_id == Site.id,
            Structure.id != structure_id,
            col(Structure.id).in_(held),
        )
        .order_by(Site.name, Structure.name)
    )
    return [Other(one.id or 0, f"{site.name}: {one.name}") for one, site in found]


def nearest(session: Session, structure_id: int, at_s: int) -> dict[str, Any]:
    """Return the stored reading nearest to a time, within a day; "words" says what is there."""
    site, _ = place(session, structure_id)
    found = series_read.load(session, structure_id, at_s - DAY_S, at_s + DAY_S, COLUMNS)
    t = found["t_s"]
    if t.size == 0:
        return {"t": None, "words": "no reading within a day"}
    k = int(np.argmin(np.abs(t - at_s)))
    row = {name: found[name][k].item() for name in COLUMNS}
    flow, flags = Flow(row["flow"]).word, flag_words(Flag(row["flags"]))
    how = How(row["how"])
    discharge = words.discharge(row["discharge_m3s"], row["uncertainty_pct"])
    parts = [
        words.site_time(instant(t[k]), site.utc_offset_min),
        f"head {words.millimetres(row['head_m'])}",
    ]
    if math.isfinite(row["raw_m"]) and row["raw_m"] != row["head_m"]:
        parts.append(f"as logged {words.millimetres(row['raw_m'])}")
    if math.isfinite(row["tailwater_m"]):
        parts.append(f"tailwater {words.millimetres(row['tailwater_m'])}")
    made = [] if how is How.MEASURED else [how.word]
    return {
        "t": int(t[k]),
        "words": " · ".join([*parts, discharge, flow, *made, *flags]),
    }


def usual_days(session: Session, structure_id: int) -> tuple[date | None, date | None]:
    """Return the days a page shows unasked: the last quarter of a year on record."""
    whole = daily.span(session, structure_id)
    if whole is None:
        return None, None
    return max(whole[0], whole[1] - timedelta(days=USUAL_DAYS - 1)), whole[1]


def file_name(site: Site, structure: Structure, what: str) -> str:
    """Return a file name without ending: what, site code, structure."""
    plain = "".join(c if c.isalnum() and c.isascii() else "-" for c in structure.name.lower())
    return "-".join(["sillbook", what, site.code.lower(), plain.strip("-")])
