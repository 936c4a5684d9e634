"""Which value of each setting holds now, for the services that go by it."""

import json
from dataclasses import dataclass, fields
from typing import Any

from sqlmodel import Session, col, select

from app.hydraulics.gauging import steadiness
from app.hydraulics.series.sensor_checks import ACCEPTANCE, Band
from app.records.settings import Setting
from app.services.settings.known import BY_KEY, KNOWN


def newest(session: Session) -> dict[str, Setting]:
    """Return the newest change of every setting that was ever changed."""
    rows = session.exec(select(Setting).order_by(col(Setting.revision)))
    return {row.key: row for row in rows}


def values(session: Session) -> dict[str, Any]:
    """Return the value that holds of every setting, in SI."""
    found = {one.key: one.default for one in KNOWN}
    for key, row in newest(session).items():
        if key in found and row.value is not None:
            found[key] = json.loads(row.value)
    return found


def value(session: Session, key: str) -> Any:
    """Return the value that holds of one setting, in SI."""
    statement = select(Setting).where(Setting.key == key).order_by(col(Setting.revision).desc())
    row = session.exec(statement).first()
    return BY_KEY[key].default if row is None or row.value is None else json.loads(row.value)


def water_year_start(session: Session) -> tuple[int, int]:
    """Return month and day on which water years begin."""
    month, day = str(value(session, "water_year")).split("-")
    return int(month), int(day)


def bands(session: Session) -> tuple[Band, ...]:
    """Return the acceptance bands in force: the office's, or common practice."""
    return tuple(
        Band(band.key, over_m, float("inf") if pct is None else pct, band.action)
        for band, (over_m, pct) in zip(ACCEPTANCE, value(session, "acceptance_bands"), strict=True)
    )


@dataclass(frozen=True, kw_only=True)
class Judging:
    """The limits by which a reading is judged; a flow value cites those that are not built in."""

    repeats_range_m: float = BY_KEY["repeats_range_m"].default
    repeats_range_share: float = BY_KEY["repeats_range_share"].default
    sensor_difference_m: float = BY_KEY["sensor_difference_m"].default
    zero_good_for_s: float = BY_KEY["zero_good_for_s"].default
    drift_limit_m: float = BY_KEY["drift_limit_m"].default
    range_share: float = BY_KEY["range_share"].default
    least_span_s: float = BY_KEY["least_span_s"].default

    @property
    def steady(self) -> steadiness.Limits:
        return steadiness.Limits(
            drift_limit_m=self.drift_limit_m,
            range_share=self.range_share,
            least_span_s=self.least_span_s,
        )

    @property
    def cited(self) -> str | None:
        """Return the limits that are not built in, as a flow value cites them; None: all are."""
        own = {
            one.name: getattr(self, one.name)
            for one in fields(self)
            if getattr(self, one.name) != one.default
        }
        return json.dumps(own, sort_keys=True) if own else None


def judging(session: Session) -> Judging:
    """Return the limits by which readings are judged now."""
    held = values(session)
    return Judging(**{one.name: held[one.name] for one in fields(Judging)})


def judged_by(cited: str | None) -> Judging:
    """Return the limits that a flow value cites."""
    return Judging(**json.loads(cited)) if cited else Judging()


def phone_limits(session: Session) -> dict[tuple[str, str], float]:
    """Return the thresholds of the pack that are settings, by room and name."""
    held = values(session)
    return {one.phone: held[one.key] for one in KNOWN if one.phone is not None}
