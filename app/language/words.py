"""Numbers and states as people read them: with unit, rounded to their uncertainty."""

import math
from collections.abc import Callable
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

from app.hydraulics.base.rounding import fixed, general
from app.hydraulics.rating.uncertainty import round_to_uncertainty
from app.hydraulics.structure.device import Flow, flag_words


def discharge(value_m3s: float | None, uncertainty_pct: float | None) -> str:
    """Return a discharge in L/s, or m3/s from 1 m3/s on, with its uncertainty.

    Never a figure without its uncertainty: with none known it says so.
    """
    if value_m3s is None or math.isnan(value_m3s):
        return "not determined"
    unit, scale = ("m³/s", 1.0) if abs(value_m3s) >= 1.0 else ("L/s", 1000.0)
    shown = value_m3s * scale
    if uncertainty_pct is None or math.isnan(uncertainty_pct):
        return f"{general(shown, 3)} {unit}, uncertainty unknown"
    if shown == 0.0:
        return f"0 {unit}"
    text = round_to_uncertainty(shown, uncertainty_pct)
    decimals = len(text.partition(".")[2])
    spread = fixed(abs(shown) * uncertainty_pct / 100.0, decimals)
    return f"{text} {unit} ± {spread} ({percent(uncertainty_pct)})"


def litres(value_m3s: float | None) -> str:
    """Return a discharge as a bare figure; its uncertainty stands elsewhere in the row."""
    if value_m3s is None or math.isnan(value_m3s):
        return "not determined"
    if value_m3s == 0.0:
        return "0 L/s"
    unit, scale = ("m³/s", 1.0) if abs(value_m3s) >= 1.0 else ("L/s", 1000.0)
    return f"{general(value_m3s * scale, 3)} {unit}"


def volume(value_m3: float | None, uncertainty_m3: float | None = None) -> str:
    """Return a volume in m3, with its uncertainty where it is given."""
    if value_m3 is None or math.isnan(value_m3):
        return "not known"
    decimals = 1 if abs(value_m3) < 100.0 else 0
    text = f"{value_m3:,.{decimals}f} m³".replace(",", "\u202f")
    if uncertainty_m3 is None or math.isnan(uncertainty_m3):
        return text
    return f"{text} ± {uncertainty_m3:,.{decimals}f}".replace(",", "\u202f")


def noun(count: float, one: str, many: str = "") -> str:
    """Return the noun as it stands after a count: file, files; entry, entries; or `many`."""
    if count == 1:
        return one
    if many:
        return many
    if one.endswith("y") and one[-2:-1] not in set("aeiou"):
        return one[:-1] + "ies"
    return one + ("es" if one.endswith(("s", "x", "ch", "sh")) else "s")


def counted(count: float, one: str, many: str = "") -> str:
    """Return a count with its noun: 1 file, 2 files, 17,292 readings; the one rule of plurals.

    `one` may be more words than the noun where `many` is given: ("reading differs", "readings
    differ").
    """
    figure = f"{count:,}" if isinstance(count, int) else f"{count:g}"
    return f"{figure} {noun(count, one, many)}"


def whole_volume(value_m3: float, sign: str = "") -> str:
    """Return a volume in whole m3; with the sign "+" as a difference."""
    return f"{value_m3:{sign},.0f} m³".replace(",", "\u202f")


def amount(value: float | None, unit: str) -> str:
    """Return what a limit allows or what was taken: a rate or a volume, by its unit."""
    if value is None:
        return "not known"
    return litres(value) if unit == "m3/s" else volume(value)


def duration(seconds: float) -> str:
    """Return a duration in its two largest units, such as 1 min 35 s."""
    left, said = round(abs(seconds)), []
    for name, size in (("year", 31_557_600), ("day", 86_400), ("h", 3600), ("min", 60), ("s", 1)):
        count, left = divmod(left, size)
        if count:
            said.append(counted(count, name, "" if name in {"year", "day"} else name))
    return " ".join(said[:2]) or "0 s"


def age(seconds: float | None) -> str:
    """Return how old something is; what lies ahead of the clock says so."""
    if seconds is None:
        return "unknown"
    if seconds < 0:
        return f"{duration(seconds)} ahead of the clock"
    largest = next((x for x in (31_557_600, 86_400, 3600, 60) if seconds >= x), 60)
    return "just now" if seconds < 60 else f"{duration(seconds // largest * largest)} old"


def clock_error(seconds: float) -> str:
    """Return how far a clock is off; a day and more is a wrong clock (common practice)."""
    if round(seconds) == 0:
        return "right"
    if abs(seconds) >= 86_400:
        side = "ahead" if seconds > 0 else "behind"
        return f"wrong: {duration(seconds)} {side}, a wrong date or year"
    return f"{duration(seconds)} {'fast' if seconds > 0 else 'slow'}"


def share(value: float | None) -> str:
    """Return a share of 1 in per cent."""
    return "unknown" if value is None else f"{fixed(100.0 * value, 1)} %".replace(".0 %", " %")


def percent(value: float | None) -> str:
    if value is None or math.isnan(value):
        return "unknown"
    return f"{fixed(value, 1 if value < 9.95 else 0)} %"


def millimetres(value_m: float | None) -> str:
    """Return a head or level difference in mm, to 0.1 mm where that matters."""
    if value_m is None or math.isnan(value_m):
        return "unknown"
    text = fixed(value_m * 1000.0, 1)
    return f"{text.removesuffix('.0')} mm"


def metres(value_m: float | None, decimals: int = 4) -> str:
    if value_m is None or math.isnan(value_m):
        return "unknown"
    return f"{fixed(value_m, decimals)} m"


def booked(value: float | None) -> str:
    """Return a level or sight with the digits it was booked with, three decimals at least."""
    if value is None or math.isnan(value):
        return ""
    text = fixed(value, 6).rstrip("0")
    return text.ljust(text.index(".") + 4, "0")


def ratio(value: float | None) -> str:
    return "not seen" if value is None or math.isnan(value) else fixed(value, 2)


def with_decimals(value: float | None, decimals: int = 2) -> str:
    """Return a figure with so many decimals; nothing where there is none."""
    return "" if value is None or math.isnan(value) else f"{value:.{decimals}f}"


def signed(value: float | None, decimals: int = 1) -> str:
    """Return a difference with its sign; nothing where there is none."""
    return "" if value is None or math.isnan(value) else f"{value:+.{decimals}f}"


def change(value_pct: float | None, decimals: int = 1, unknown: str = "") -> str:
    """Return a difference in per cent with its sign, or what to say where there is none."""
    text = signed(value_pct, decimals)
    return f"{text} %" if text else unknown


def significant(value: float | None, digits: int = 6) -> str:
    """Return a figure to so many significant digits; nothing where there is none."""
    return "" if value is None or math.isnan(value) else f"{value:.{digits}g}"


def grouped(count: int) -> str:
    """Return a count with its thousands apart."""
    return f"{count:,}"


def site_time(moment: datetime | None, offset_min: int) -> str:
    """Return an instant on the site's fixed clock, with the offset shown."""
    if moment is None:
        return "unknown"
    local = moment.astimezone(timezone(timedelta(minutes=offset_min)))
    return f"{local:%Y-%m-%d %H:%M} {offset_words(offset_min)}"


def site_stretch(first: datetime, last: datetime, offset_min: int) -> str:
    """Return from when to when on the site's clock, which is named once; one moment as one."""
    begins, ends = site_time(first, offset_min), site_time(last, offset_min)
    if begins == ends:
        return begins
    return f"{begins.removesuffix(f' {offset_words(offset_min)}')} to {ends}"


def site_clock(moment: datetime | None, offset_min: int) -> str:
    """Return an instant on the site's fixed clock, where the offset stands in the heading."""
    return site_time(moment, offset_min).removesuffix(" " + offset_words(offset_min))


def offset_words(offset_min: int) -> str:
    sign = "-" if offset_min < 0 else "+"
    hours, minutes = divmod(abs(offset_min), 60)
    return f"UTC{sign}{hours:02d}:{minutes:02d}"


def utc_time(moment: datetime | None) -> str:
    return "unknown" if moment is None else f"{moment.astimezone(UTC):%Y-%m-%d %H:%M:%S} UTC"


def flow_word(flow: int) -> str:
    return Flow(flow).word


FILTERS: dict[str, Callable[..., Any]] = {
    "fixed": with_decimals,
    "signed": signed,
    "change": change,
    "significant": significant,
    "grouped": grouped,
    "whole_volume": whole_volume,
    "amount": amount,
    "discharge": discharge,
    "litres": litres,
    "volume": volume,
    "age": age,
    "clock_error": clock_error,
    "booked": booked,
    "counted": counted,
    "noun": noun,
    "share": share,
    "percent": percent,
    "millimetres": millimetres,
    "metres": metres,
    "ratio": ratio,
    "site_clock": site_clock,
    "site_time": site_time,
    "site_stretch": site_stretch,
    "utc_time": utc_time,
    "offset_words": offset_words,
    "flow_word": flow_word,
    "flag_words": flag_words,
}
