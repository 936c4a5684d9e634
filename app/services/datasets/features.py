"""Sites with their last state as GeoJSON (RFC 7946): longitude and latitude, WGS 84."""

import json
from collections.abc import Iterator
from datetime import datetime
from typing import Any

from sqlmodel import Session

from app.hydraulics.structure.device import Flow
from app.language.columns import MADE_BY
from app.language.tables import json_value
from app.services.settings import in_force as settings
from app.services.today.board import SiteRow, board


def geojson(session: Session, at: datetime, site_id: int | None = None) -> Iterator[str]:
    """Yield all sites, or one, as a collection of features, a feature a line.

    A site without a position is there too, with no geometry (section 3.2): it is not lost.
    """
    rows = [row for row in board(session, at) if site_id in (None, row.id)]
    licence = json.dumps(settings.value(session, "licence"), ensure_ascii=False)
    yield (
        f'{{"type": "FeatureCollection", "licence": {licence}, '
        f'"made_at": "{json_value(at)}", "made_by": "{MADE_BY}", "features": ['
    )
    for count, row in enumerate(rows):
        yield (",\n" if count else "\n") + json.dumps(_feature(row), ensure_ascii=False)
    yield "\n]}\n"


def _feature(row: SiteRow) -> dict[str, Any]:
    site, news = row.site, row.news
    known = site.latitude is not None and site.longitude is not None
    last = {
        "last_at": json_value(news.at) if news else None,
        "last_from": news.source if news else None,
        "last_structure_id": news.structure_id if news else None,
        "last_discharge_m3s": json_value(news.discharge_m3s) if news else None,
        "last_uncertainty_pct": json_value(news.uncertainty_pct) if news else None,
        "last_flow": Flow(news.flow_code).word if news else None,
        "last_flags": list(news.flags) if news else [],
        "last_reason": news.reason if news else None,
    }
    return {
        "type": "Feature",
        "id": site.id,
        "geometry": {"type": "Point", "coordinates": [site.longitude, site.latitude]}
        if known
        else None,
        "properties": {
            "code": site.code,
            "name": site.name,
            "utc_offset_min": site.utc_offset_min,
            "invented": site.demo,
            "structures": [one.name for one in row.structures],
            **last,
            "out_of_date": row.stale,
            "lacking": list(row.lacking),
        },
    }
