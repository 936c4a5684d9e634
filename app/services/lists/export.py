"""The lists of the pages of the long record as tables, for their .csv and .json."""

from datetime import date
from typing import Any

from sqlmodel import Session

from app.language.tables import Column, Table
from app.services.corrections import layers as corrections
from app.services.corrections import offers as sensor_offers
from app.services.corrections import visits as sensor_visits
from app.services.days import totals as daily_totals
from app.services.review import approval
from app.services.sites.structures import place
from app.services.takes import limits as take_limits
from app.services.takes import page as take_views
from app.services.takes.tables import USE_COLUMNS

LAYER_COLUMNS = (
    Column("id", "Correction id"),
    Column("place", "Order in force, 0 when taken back"),
    Column("shape", "Shape"),
    Column("quantity", "Of"),
    Column("from_at", "From, UTC"),
    Column("to_at", "To, UTC"),
    Column("at", "Step at, UTC"),
    Column("amount", "Added at the beginning, m; for a clock s fast; for an estimate the head"),
    Column("amount_end", "The same at the end"),
    Column("amount_words", "In words"),
    Column("uncertainty_m", "Uncertainty it adds, m, k=2"),
    Column("reason", "Reason"),
    Column("offer_key", "From the offer"),
    Column("by", "By"),
    Column("added_at", "Added, UTC"),
    Column("withdrawn_at", "Taken back, UTC"),
    Column("withdrawn_by", "Taken back by"),
    Column("withdraw_reason", "Why taken back"),
)
OFFER_COLUMNS = (
    Column("key", "Offer"),
    Column("kind", "Kind"),
    Column("from_at", "From, UTC"),
    Column("to_at", "To, UTC"),
    Column("shape", "Shape"),
    Column("amount_m", "Added at the beginning, m"),
    Column("amount_end_m", "Added at the end, m"),
    Column("band", "Band"),
    Column("action", "What the band asks"),
    Column("why", "Why"),
    Column("state", "State"),
)
CHECK_COLUMNS = (
    Column("entry_id", "Reading"),
    Column("visit_id", "Visit"),
    Column("at", "Time, UTC"),
    Column("occasion", "Occasion"),
    Column("head_m", "Head by the staff, m"),
    Column("sensor_m", "Head by the sensor, m"),
    Column("offset_m", "Staff minus sensor, m"),
    Column("left_offset_m", "The same after the corrections in force, m"),
    Column("band", "Band"),
    Column("action", "What the band asks"),
    Column("source", "Sensor's figure from"),
    Column("by", "By"),
)
MONTH_COLUMNS = (
    Column("month", "Month"),
    Column("first", "First day"),
    Column("last", "Last day"),
    Column("state", "State"),
    Column("revision", "Revision"),
    Column("by", "By"),
    Column("at", "At, UTC"),
    Column("reason", "Reason"),
    Column("open_items", "Open items"),
    Column("volume_m3", "Volume, m3"),
    Column("volume_uncertainty_m3", "Uncertainty of the volume, m3, k=2"),
    Column("missing_fraction", "Share without record"),
)
LIMIT_COLUMNS = (
    Column("id", "Limit id"),
    Column("structure_id", "Structure id"),
    Column("kind", "Kind"),
    Column("amount", "Amount"),
    Column("unit", "Unit"),
    Column("window_s", "As the mean of, s"),
    Column("valid_from", "First day"),
    Column("valid_to", "Last day"),
    Column("season_begins", "Season begins"),
    Column("season_ends", "Season ends"),
    Column("note", "Note"),
    Column("by", "By"),
    Column("added_at", "Added, UTC"),
    Column("ended_at", "Ended, UTC"),
    Column("end_reason", "Why ended"),
)
CALENDAR_COLUMNS = (
    Column("day", "Day"),
    Column("volume_m3", "Volume, m3"),
    Column("verdict", "Against the limit of a day"),
    Column("word", "Record"),
)
DURATION_COLUMNS = (
    Column("exceeded_pct", "Share of full days on which it is reached or passed, %"),
    Column("discharge_m3s", "Mean of a day, m3/s"),
)


def named(session: Session, structure_id: int, name: str) -> str:
    site, _ = place(session, structure_id)
    return f"{name}-{site.code}-{structure_id}"


def listed(
    session: Session, structure_id: int, name: str, columns: tuple[Column, ...], lines: Any
) -> Table:
    """Return lines, rows or objects with the columns as attributes, as a table."""
    rows = [line if isinstance(line, dict) else vars(line) for line in lines]
    return Table(named(session, structure_id, name), columns, rows)


def layers_table(session: Session, structure_id: int) -> Table:
    """Return the corrections of a record in their order, those taken back with who and why."""
    found = corrections.layers(session, structure_id, with_withdrawn=True)
    return listed(session, structure_id, "corrections", LAYER_COLUMNS, found)


def offers_table(session: Session, structure_id: int) -> Table:
    """Return the corrections that visits offer, in every state."""
    found = sensor_offers.offers(session, structure_id)
    return listed(session, structure_id, "corrections-offered", OFFER_COLUMNS, found)


def checks_table(session: Session, structure_id: int) -> Table:
    """Return staff minus sensor at every reading that has both."""
    found = sensor_visits.checks(session, structure_id)
    return listed(session, structure_id, "staff-minus-sensor", CHECK_COLUMNS, found)


def months_table(session: Session, structure_id: int) -> Table:
    """Return the months of a record and how far each is on its way."""
    found = approval.months(session, structure_id)
    return listed(session, structure_id, "months", MONTH_COLUMNS, found)


def limits_table(session: Session, structure_id: int) -> Table:
    """Return the limits of a structure, those that ended too."""
    found = take_limits.limits(session, structure_id)
    return listed(session, structure_id, "take-limits", LIMIT_COLUMNS, found)


def periods_table(session: Session, structure_id: int, limit_id: int) -> Table:
    """Return the use of a limit in every period on record."""
    found = take_views.history_of_use(session, structure_id, limit_id)
    rows = [line.as_row() for line in found]
    return listed(session, structure_id, f"take-periods-{limit_id}", USE_COLUMNS, rows)


def calendar_table(session: Session, structure_id: int, as_of: date | None) -> Table:
    """Return the days of a water year with their volumes against the limit of a day."""
    found = take_views.heat(session, structure_id, as_of)["days"]
    return listed(session, structure_id, "take-calendar", CALENDAR_COLUMNS, found)


def durations_table(
    session: Session, structure_id: int, first: date | None, last: date | None
) -> Table:
    """Return the whole duration curve: every mean of a full day with its rank."""
    found = daily_totals.duration(session, structure_id, first, last)
    pairs = zip(found["exceeded_pct"], found["discharge_m3s"], strict=True)
    rows = [{"exceeded_pct": pct, "discharge_m3s": flow} for pct, flow in pairs]
    return listed(session, structure_id, "durations", DURATION_COLUMNS, rows)
