"""The list of check gaugings as CSV and JSON, one gauging whole, and the phone's short list."""

from collections import defaultdict
from datetime import timedelta, timezone
from typing import Any

from sqlmodel import Session

from app.hydraulics.gauging.velocity_area import VelocityArea
from app.language.tables import Column, Table, json_value
from app.records.sites import Site
from app.services.entries.bodies.gauging import METHODS
from app.services.entries.links import LINK, named_by
from app.services.entries.written import source_words
from app.services.gaugings.heads import number_or_none
from app.services.gaugings.results import GaugingResult, newest_results

FEW = 6  # gaugings of a structure on the phone, for comparison on the spot
STEPS = ((2.0, "within 2 %"), (5.0, "within 5 %"), (8.0, "within 8 %"))

COLUMNS = (
    Column("site_id", "Site id"),
    Column("site_code", "Site code"),
    Column("site_name", "Site"),
    Column("structure_id", "Structure id"),
    Column("structure_name", "Structure"),
    Column("gauging_id", "Check gauging"),
    Column("start_utc", "Start, UTC"),
    Column("end_utc", "End, UTC"),
    Column("start_local", "Start, site time"),
    Column("site_offset_min", "Site time from UTC, min"),
    Column("method", "Method"),
    Column("observers", "Observers"),
    Column("meter_type", "Instrument"),
    Column("meter_serial", "Serial number"),
    Column("last_calibration", "Last calibration"),
    Column("instrument_id", "Instrument of the register"),
    Column("instrument", "Instrument of the register, by name"),
    Column("calibration", "Calibration at the time"),
    Column("calibration_words", "Calibration at the time, in words"),
    Column("verticals", "Verticals in the water"),
    Column("points_per_vertical", "Points a vertical"),
    Column("max_panel_pct", "Largest panel, %"),
    Column("width_m", "Width, m"),
    Column("area_m2", "Area, m2"),
    Column("mean_velocity_m_s", "Mean velocity, m/s"),
    Column("head_start_m", "Head at start, m over crest"),
    Column("head_end_m", "Head at end, m over crest"),
    Column("head_mean_m", "Mean head, m over crest"),
    Column("head_word", "Steadiness"),
    Column("gauge_zero_id", "Gauge zero"),
    Column("tail_head_m", "Tailwater, m over crest"),
    Column("submergence_ratio", "Submergence ratio"),
    Column("discharge_m3s", "Discharge, m3/s"),
    Column("uncertainty_pct", "Uncertainty of discharge, %"),
    Column("coverage_k", "Coverage factor of the uncertainties"),
    Column("rating_id", "Rating"),
    Column("rating_discharge_m3s", "Discharge by the rating, m3/s"),
    Column("rating_uncertainty_pct", "Uncertainty of the rated discharge, %"),
    Column("rating_flow", "Flow word of the rating"),
    Column("deviation_pct", "Deviation from the rating, %"),
    Column("e_n", "E_n"),
    Column("tolerance_pct", "Tolerance to verify, %"),
    Column("verdict", "Verdict"),
    Column("reason", "Reason"),
    Column("tolerance_verdict", "Against the tolerance"),
    Column("flags", "Flags"),
    Column("control_condition", "Control"),
    Column("quality_word", "Quality"),
    Column("remarks", "Remarks"),
    Column("record_version", "Version of the entry"),
    Column(LINK, "Corrects"),
    Column("correction_reason", "Reason of the correction"),
    Column("rival", "Another correction stands beside it"),
    Column("entered_utc", "Saved on the phone, UTC"),
    Column("changed_utc", "Received by the office, UTC"),
    Column("source", "Copied from"),
    Column("copied_by", "Copied by"),
)


def row_of(one: GaugingResult, site: Site) -> dict[str, Any]:
    """Return a check gauging as a row of the table."""
    entry, body, head, rating = one.entry, one.entry.body, one.head, one.rating
    section = one.gauging if isinstance(one.gauging, VelocityArea) else None
    instrument = body.get("instrument") or {}
    zone = timezone(timedelta(minutes=site.utc_offset_min))
    return {
        "site_id": site.id,
        "site_code": site.code,
        "site_name": site.name,
        "structure_id": one.structure.id,
        "structure_name": one.structure.name,
        "gauging_id": entry.id,
        "start_utc": one.started_at,
        "end_utc": one.ended_at,
        "start_local": one.started_at.astimezone(zone),
        "site_offset_min": site.utc_offset_min,
        "method": one.method,
        "observers": [one.by, *(body.get("observers") or [])],
        "meter_type": instrument.get("kind") or None,
        "meter_serial": instrument.get("serial") or None,
        "last_calibration": instrument.get("last_calibration") or None,
        "instrument_id": one.used.instrument_id,
        "instrument": one.used.name or None,
        "calibration": one.used.state.word,
        "calibration_words": one.used.state.words,
        "verticals": section.verticals if section else None,
        "points_per_vertical": points_per_vertical(body) if section else None,
        "max_panel_pct": section.largest_share_pct if section else None,
        "width_m": section.width_m if section else None,
        "area_m2": section.area_m2 if section else None,
        "mean_velocity_m_s": section.mean_velocity_ms if section else None,
        "head_start_m": one.heads_m[0] if one.heads_m else None,
        "head_end_m": one.heads_m[-1] if len(one.heads_m) > 1 else None,
        "head_mean_m": one.head_mean_m,
        "head_word": head.word if head else rating.lacking,
        "gauge_zero_id": rating.gauge_zero_id,
        "tail_head_m": one.tailwater_m,
        "submergence_ratio": rating.submergence_ratio,
        "discharge_m3s": one.discharge_m3s,
        "uncertainty_pct": one.uncertainty_pct,
        "coverage_k": 2,
        "rating_id": rating.rating_id,
        "rating_discharge_m3s": rating.discharge_m3s,
        "rating_uncertainty_pct": rating.uncertainty_pct,
        "rating_flow": rating.flow,
        "deviation_pct": one.deviation_pct,
        "e_n": one.e_n,
        "tolerance_pct": one.verdict.tolerance_pct if one.verdict else None,
        "verdict": one.word,
        "reason": one.reason,
        "tolerance_verdict": one.verdict.tolerance_word if one.verdict else None,
        "flags": one.flags,
        "control_condition": body.get("control") or [],
        "quality_word": quality_word(one),
        "remarks": body.get("note") or "",
        "record_version": 1 if named_by(entry) is None else 2,
        LINK: named_by(entry),
        "correction_reason": entry.reason,
        "rival": one.rival,
        "entered_utc": entry.saved_at,
        "changed_utc": entry.received_at,
        "source": source_words(body),
        "copied_by": one.copied_by,
    }


def points_per_vertical(body: dict[str, Any]) -> str | None:
    """Return how many points the verticals have, such as "1" or "1 to 3"."""
    counts = {
        len(vertical.get("points") or {})
        for vertical in body["observed"]["verticals"]
        if vertical.get("points")
    }
    if not counts:
        return None
    low, high = min(counts), max(counts)
    return str(low) if low == high else f"{low} to {high}"


def quality_word(one: GaugingResult) -> str:
    """Return the class of the gauging's own uncertainty; the percent is what counts."""
    if one.gauging is None:
        return "no discharge"
    if one.gauging.indication_only:
        return "indication only"
    pct = one.gauging.uncertainty_pct
    return next((word for limit, word in STEPS if pct <= limit), "over 8 %")


def gaugings_table(site: Site, found: list[GaugingResult]) -> Table:
    """Return check gaugings as a table, oldest first."""
    return Table(f"gaugings-{site.code}", COLUMNS, [row_of(one, site) for one in found])


def whole(one: GaugingResult, site: Site) -> dict[str, Any]:
    """Return one check gauging as plain JSON: its row, the sums in full, and what was observed."""
    return {
        **{key: json_value(value) for key, value in row_of(one, site).items()},
        "heads_m": one.heads_m,
        "gauging": one.gauging.as_dict() if one.gauging else None,
        "problem": one.problem.as_dict() if one.problem else None,
        "observed": one.entry.body["observed"],
        "preview": one.entry.body.get("preview"),
    }


def for_phone(session: Session) -> dict[int, list[dict[str, Any]]]:
    """Return the newest few check gaugings of every structure for the pack, by site."""
    answer: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for one in newest_results(session, FEW):
        answer[one.entry.site_id].append(
            {
                "id": one.entry.id,
                "structure_id": one.structure.id,
                "started_at": json_value(one.started_at),
                "by": one.entry.by_id,
                "by_name": one.by,
                "method": METHODS[one.entry.body["observed"]["method"]],
                "head_mean_m": number_or_none(one.head_mean_m),
                "discharge_m3s": one.discharge_m3s,
                "uncertainty_pct": one.uncertainty_pct,
                "deviation_pct": one.deviation_pct,
                "word": one.word,
            }
        )
    return answer
