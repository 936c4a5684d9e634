"""What a column of a logger file means, its unit, and how it becomes a head in metres."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from app.errors import BadInput
from app.hydraulics.base.arrays import Floats
from app.hydraulics.base.units import LENGTH_M, PRESSURE_PA, TEMPERATURE_C
from app.hydraulics.series.sensing import depth_m, distance_m, gauge_pressure_pa
from app.services.loggers.reader.cells.units import WATER_COLUMN


class Meaning(StrEnum):
    """What a sensor column measures."""

    HEAD = "head"
    LEVEL = "level over a datum"
    PRESSURE = "pressure, vented"
    ABSOLUTE = "pressure, absolute"
    BAROMETER = "barometer"
    DISTANCE = "distance down to the water"
    TAILWATER = "tailwater head"
    AIR = "air temperature"
    IGNORED = "not used"


# which column gives the head, the surest first
HEAD_SOURCES = (
    Meaning.HEAD,
    Meaning.LEVEL,
    Meaning.PRESSURE,
    Meaning.ABSOLUTE,
    Meaning.DISTANCE,
)
_LENGTHS = (Meaning.HEAD, Meaning.LEVEL, Meaning.DISTANCE, Meaning.TAILWATER)
_PRESSURES = (Meaning.PRESSURE, Meaning.ABSOLUTE, Meaning.BAROMETER)
SCALED = "scaled"  # raw counts or milliamperes with a zero and a span a person gave

# what stands in a name, the surest first; brackets with a serial number or a label are not read
_MEANINGS = (
    (Meaning.IGNORED, r"batt|volt|\bv\b|signal|rssi|memory|^#"),
    (Meaning.IGNORED, r"quality|flag|status|grade|\bqc\b|\bcode\b|comment|event|remark|\bnotes?\b"),
    (
        Meaning.IGNORED,
        r"\bstd|deviation|variance|sigma|noise|accuracy|speed|veloc|volume|salin|turb",
    ),
    (Meaning.BAROMETER, r"baro|atmos|air ?press|luftdr"),
    (Meaning.AIR, r"air.*(temp|deg|°c)|temp.*air"),
    (Meaning.IGNORED, r"temp|°c|deg ?c|humid|rain|flow|discharge|conduct"),
    (Meaning.TAILWATER, r"tail|downstream|d/s|unterwasser"),
    (
        Meaning.DISTANCE,
        r"dist|air ?gap|ullage|range|freeboard|depth (to|below)|\bdtw\b|abst[ai]|afst",
    ),
    (Meaning.ABSOLUTE, r"\babs"),
    (Meaning.PRESSURE, r"press|druck|\bpresi|\bkpa\b|\bpsi\b|\bhpa\b|\bmbar\b"),
    (Meaning.HEAD, r"head|depth"),
    (Meaning.LEVEL, r"\brl\b|reduced|elevation|datum"),
    (Meaning.HEAD, r"level|stage|\bwl\b|water|wasser|pegel|\bnive|\blivell|水位|수위|уров|στάθμ"),
    (Meaning.IGNORED, r"record|\bno\b|\bnr\b|index|count$"),
)
_LABEL = re.compile(
    r"[(\[{][^()\[\]{}]*(?:s/n|\bsn\b|serial|lbl|label|\bno\b|\bid\b|#)[^()\[\]{}]*[)\]}]"
)
_SECONDARY = re.compile(r"\braw\b|\bcounts?\b|\badc\b|uncalib|unscaled|\bmax|\bmin\b|\bminimum\b")


@dataclass(frozen=True)
class Column:
    """One column that is read: index from 0, its name in the file, meaning, unit, scaling."""

    index: int
    name: str
    meaning: Meaning
    unit: str
    zero: float = 0.0
    per_unit: float = 1.0

    @property
    def label(self) -> str:
        """Column number from 1 and name, as problems name it."""
        return f"{self.index + 1} ({self.name})" if self.name else str(self.index + 1)


@dataclass(frozen=True)
class Fitting:
    """How the sensor hangs, metres over the crest: None where nobody has said so."""

    sensor_above_crest_m: float | None = None
    datum_above_crest_m: float | None = None
    bracket_above_crest_m: float | None = None
    assumed_air_c: float = 20.0


def meaning_of(name: str) -> Meaning | None:
    """Return the meaning a column's name suggests, None when the name says nothing."""
    plain = _LABEL.sub(" ", re.sub(r"_+", " ", name.strip().lower())).strip()
    for meaning, pattern in _MEANINGS:
        if re.search(pattern, plain):
            return meaning
    return None


def is_secondary(name: str) -> bool:
    """Tell whether a name speaks of raw counts or of an extreme: a reading beside it is meant."""
    return _SECONDARY.search(re.sub(r"_+", " ", name.strip().lower())) is not None


def units_for(meaning: Meaning) -> tuple[str, ...]:
    """Return the units a column of this meaning may have."""
    if meaning in _LENGTHS:
        return (*LENGTH_M, SCALED)
    if meaning in _PRESSURES:
        return tuple(PRESSURE_PA)
    return tuple(TEMPERATURE_C) if meaning is Meaning.AIR else ("",)


def to_si(values: Floats, column: Column) -> Floats:
    """Return a column in metres, pascals or degrees Celsius."""
    if column.unit == SCALED:
        return column.zero + column.per_unit * values
    if column.unit in TEMPERATURE_C:
        scale, addend = TEMPERATURE_C[column.unit]
        return values * scale + addend
    factor = LENGTH_M.get(column.unit, PRESSURE_PA.get(column.unit, 1.0))
    if column.unit in ("mm", "cm"):
        return values / round(1.0 / factor)  # 251 / 1000 is the nearest to 0.251, 251 * 0.001 not
    return values * factor


def heads(values: Mapping[int, Floats], columns: Sequence[Column], fitting: Fitting) -> Floats:
    """Return the head over the crest in metres, shape (n,); NaN where an input is missing.

    Parameters
    ----------
    values : mapping from column index to array as read, in the file's own unit
    columns : the columns that are read; exactly one of them is a source of head

    Raises
    ------
    BadInput
        If there is no source, or a barometer or a height is missing.
    """
    by_meaning = {column.meaning: column for column in columns}
    source = next((m for m in HEAD_SOURCES if m in by_meaning), None)
    if source is None:
        raise BadInput(
            "row 1, column 1", "no head", "one column gives the head", "Say which column it is."
        )
    measured = to_si(values[by_meaning[source].index], by_meaning[source])
    if source is Meaning.HEAD:
        return measured
    if source is Meaning.LEVEL:
        return measured + _height(fitting.datum_above_crest_m, by_meaning[source], "datum")
    if source is Meaning.DISTANCE:
        bracket = _height(fitting.bracket_above_crest_m, by_meaning[source], "bracket")
        if Meaning.AIR in by_meaning:
            air = by_meaning[Meaning.AIR]
            measured = distance_m(
                measured, _possible_air(to_si(values[air.index], air)),
                assumed_air_c=fitting.assumed_air_c,
            )  # fmt: skip
        return bracket - measured
    if source is Meaning.ABSOLUTE:
        if Meaning.BAROMETER not in by_meaning:
            raise BadInput(
                f"row 1, column {by_meaning[source].label}",
                "no barometer",
                "an absolute pressure needs the barometer of the same time",
                "Say which column is the barometer, or add one to the file.",
            )
        baro = by_meaning[Meaning.BAROMETER]
        measured = gauge_pressure_pa(measured, to_si(values[baro.index], baro))
    # a look shows the water over the sensor until its height is told; `ready` refuses till then
    return depth_m(measured) + (fitting.sensor_above_crest_m or 0.0)


def _possible_air(air_c: Floats) -> Floats:
    """Return air temperatures, those no air ever had as missing."""
    return np.where((air_c > -60.0) & (air_c < 70.0), air_c, np.nan)


def _height(value: float | None, column: Column, what: str) -> float:
    if value is None or not np.isfinite(value):
        raise BadInput(
            f"row 1, column {column.label}",
            "no height",
            f"the height of the {what} over the crest must be known",
            f"Give {what}_above_crest_m in metres.",
        )
    return float(value)


def with_choice(column: Column, choice: Mapping[str, object]) -> Column:
    """Return a column as a person chose it: meaning, unit, zero and per_unit.

    Raises
    ------
    BadInput
        If the meaning, the unit or a number is not one that can be.
    """
    field = f"row 1, column {column.label}"
    try:
        meaning = Meaning(str(choice.get("meaning", column.meaning)))
    except ValueError:
        known = "; ".join(Meaning)  # a meaning holds a comma
        raise BadInput(
            field, choice.get("meaning"), "is no meaning of a column", f"One of: {known}."
        ) from None
    unit = str(choice.get("unit", column.unit))
    if meaning in _PRESSURES:
        unit = WATER_COLUMN.get(unit, unit)  # a pressure in cm is one in cm of water
    allowed = units_for(meaning)
    if meaning is not Meaning.IGNORED and unit not in allowed:
        if "unit" in choice or "meaning" not in choice:
            raise BadInput(
                field,
                unit or "no unit",
                f"is no unit of {meaning}",
                f"One of {', '.join(allowed)}.",
            )
        unit = ""
    numbers = {key: choice.get(key, getattr(column, key)) for key in ("zero", "per_unit")}
    for key, value in numbers.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or not np.isfinite(value):
            raise BadInput(field, value, f"{key} is a number", "Give metres, such as 0.5.")
    zero, per_unit = (float(str(value)) for value in numbers.values())
    return replace(column, meaning=meaning, unit=unit, zero=zero, per_unit=per_unit)
