"""The settings an office may change: each with its built-in value, where that is from, its range.

A setting stands here when offices differ in it. What a standard or a device fixes is none, and
what a form asks at a single structure or gauging is none either.
"""

import math
from collections.abc import Mapping
from datetime import date

from app.errors import NotFound
from app.hydraulics.base.units import DAY_S
from app.hydraulics.gauging import steadiness
from app.hydraulics.series.sensor_checks import ACCEPTANCE
from app.language import forms
from app.language.words import counted
from app.services.settings.kinds import (
    BOX,
    MM_M,
    Known,
    bands_said,
    choice,
    days,
    elsewhere,
    figure,
    offset_said,
    short_text,
)

MIN_S, PER_CENT = 60.0, 0.01
HEAD_UNITS = {"mm": "millimetres", "cm": "centimetres", "m": "metres"}
COMMON = "common practice"
MONTHS = tuple((f"{m:02d}-01", f"1 {date(2001, m, 1):%B}") for m in range(1, 13))

OFFICE, NEW, READINGS, STEADY, RECORD = (
    "The office", "Proposed at something new", "Judging a reading, on the phone and here",
    "When a flow counts as steady, on the phone and here", "Rounds and the long record",
)  # fmt: skip
AGAIN = "Readings judged by the value before are shown out of date until they are rated again."
PHONE = "Phones follow when they next fetch the sites."


KNOWN: tuple[Known, ...] = (
    Known(
        key="organisation",
        label="Organisation",
        group=OFFICE,
        default="",
        source="no name until one is given",
        follows="Stands at the head of rating card, round sheet and commissioning sheet.",
        read=short_text,
        box=str,
        say=lambda value: value or "none given",
        range="up to 80 characters",
    ),
    Known(
        key="licence",
        label="Licence of what is taken out",
        group=OFFICE,
        default="not stated",
        source="nobody has said under which terms others may use the record",
        follows="Stands in every file taken out of the record; files taken before keep theirs.",
        read=short_text,
        box=str,
        say=str,
        range="up to 80 characters",
    ),
    choice(
        "water_year",
        "The water year begins",
        MONTHS,
        group=OFFICE,
        default="07-01",
        source=f"{COMMON} in the south; 1 October is usual in the north",
        follows="Totals, charts, takes and the preview of rating again go by it at once. Approved "
        "months stay as approved: a month belongs to whichever year holds it.",
    ),
    Known(
        key="utc_offset_min",
        label="Offset from UTC of a new site",
        group=NEW,
        default=None,
        source="proposed from the clock of the computer it is typed on",
        follows="Only the box of a new site; sites keep theirs.",
        read=lambda form: forms.utc_offset_min(form, BOX),
        box=lambda value: "" if value is None else offset_said(value),
        say=offset_said,
        range="-14:00 to +14:00",
    ),
    choice(
        "head_unit",
        "Unit in which heads are read at a new site",
        tuple(HEAD_UNITS.items()),
        group=NEW,
        default="mm",
        source=COMMON,
        follows="Only the box of a new site; sites keep theirs.",
    ),
    figure(
        "head_uncertainty_m",
        "Uncertainty of a head (k = 2) at a new structure",
        group=NEW,
        default=0.003,
        per_unit=MM_M,
        unit="mm",
        low=0.1,
        high=200.0,
        source=f"{COMMON}: gauge zero and reading of a staff together",
        follows="Only the box of a new structure; structures keep theirs.",
    ),
    Known(
        key="visit_interval_days",
        label="Interval of visits in a site's first plan",
        group=NEW,
        default=None,
        source="no interval until somebody plans one",
        follows="Only the box of a site's first plan; plans stay as they are.",
        read=days,
        box=lambda value: "" if value is None else str(value),
        say=lambda value: "none" if value is None else counted(value, "day"),
        range="1 to 366 days",
        unit="days",
    ),
    figure(
        "repeats_range_m",
        "Repeats disagree when further apart than",
        group=READINGS,
        default=0.010,
        per_unit=MM_M,
        unit="mm",
        low=1.0,
        high=100.0,
        source=f"{COMMON}; or the share of head below, whichever is larger",
        follows=f"{PHONE} {AGAIN}",
        phone=("readings", "repeats_range_m"),
    ),
    figure(
        "repeats_range_share",
        "Repeats disagree when further apart than this share of the head",
        group=READINGS,
        default=0.05,
        per_unit=PER_CENT,
        unit="%",
        low=1.0,
        high=50.0,
        source=COMMON,
        follows=f"{PHONE} {AGAIN}",
        phone=("readings", "repeats_range_share"),
    ),
    figure(
        "sensor_difference_m",
        "A sensor differs from the staff by more than",
        group=READINGS,
        default=0.005,
        per_unit=MM_M,
        unit="mm",
        low=1.0,
        high=100.0,
        source=f"{COMMON}: correct, find the cause, re-level soon",
        follows=f"{PHONE} {AGAIN} The review queue asks by it at once.",
        phone=("readings", "sensor_difference_m"),
    ),
    figure(
        "zero_good_for_s",
        "A gauge zero is good for",
        group=READINGS,
        default=400 * DAY_S,
        per_unit=DAY_S,
        unit="days",
        low=30.0,
        high=999.0,
        source=f"{COMMON}: levelled every year, with slack",
        follows=f"{PHONE} {AGAIN}",
        phone=("readings", "zero_good_for_s"),
    ),
    figure(
        "drift_limit_m",
        "A head drifts when it moves, in 10 min, by more than",
        group=STEADY,
        default=steadiness.DRIFT_LIMIT_M,
        per_unit=MM_M,
        unit="mm",
        low=0.5,
        high=50.0,
        source=f"{COMMON} in gauging, no standard",
        follows=f"{PHONE} {AGAIN}",
        phone=("steadiness", "drift_limit_m"),
    ),
    figure(
        "range_share",
        "Readings scatter when apart by more than this share of the head",
        group=STEADY,
        default=steadiness.RANGE_SHARE,
        per_unit=PER_CENT,
        unit="%",
        low=0.1,
        high=20.0,
        source=f"{COMMON}; never less than the uncertainty of the head",
        follows=f"{PHONE} {AGAIN}",
        phone=("steadiness", "range_share"),
    ),
    figure(
        "least_span_s",
        "Readings must span at least",
        group=STEADY,
        default=steadiness.LEAST_SPAN_S,
        per_unit=MIN_S,
        unit="min",
        low=0.5,
        high=60.0,
        source=f"{COMMON}: 2 min, or one time constant of the pond",
        follows=f"{PHONE} {AGAIN}",
        phone=("steadiness", "least_span_s"),
    ),
    figure(
        "levels_every_s",
        "Levels are overdue after",
        group=RECORD,
        default=365 * DAY_S,
        per_unit=DAY_S,
        unit="days",
        low=30.0,
        high=999.0,
        source=f"{COMMON}: crest, staff and sensor once a year",
        follows="Today lists by it at once.",
    ),
    Known(
        key="acceptance_bands",
        label="Acceptance bands of a sensor against the staff",
        group=RECORD,
        default=[
            [one.over_m, None if math.isinf(one.over_flow_pct) else one.over_flow_pct]
            for one in ACCEPTANCE
        ],
        source=f"{COMMON}, no law and no standard",
        follows="Checks and offers of corrections go by them at once; corrections made stay.",
        read=elsewhere,
        box=lambda _: "",
        say=bands_said,
        range="changed under Corrections of any structure",
        typed=False,
    ),
)
BY_KEY: Mapping[str, Known] = {one.key: one for one in KNOWN}


def known(key: str) -> Known:
    """Return a setting by its key; raises NotFound."""
    if key not in BY_KEY:
        raise NotFound(f"setting {key[:40]}")
    return BY_KEY[key]
