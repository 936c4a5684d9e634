"""Invented logger exports with the traits that mislead a reader, and the truth that they hold.

Every maker takes a `Random` and returns an `Export`: the bytes, the times and heads that were
written into it, the questions that must be asked, and the answers a person would give. The
header words are this project's own. Factors of units are written out here, not taken from the
program: foot and inch of 1959, standard gravity (CGPM 1901), water of 1000 kg/m3.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from random import Random
from typing import Any

import numpy as np

SITE_MIN = 720
PER_METRE = {"mm": 1000.0, "cm": 100.0, "m": 1.0, "ft": 1.0 / 0.3048, "in": 1.0 / 0.0254}
PLACES = {"mm": 1, "cm": 2, "m": 4, "ft": 4, "in": 3, "kPa": 4, "hPa": 3, "cmH2O": 2, "psi": 5}
PA = {"kPa": 1000.0, "hPa": 100.0, "cmH2O": 98.0665, "psi": 0.45359237 * 9.80665 / 0.0254**2}
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


@dataclass
class Export:
    """A file and its truth: local stamps, heads in metres (NaN: missing), questions, answers.

    `asks` are the questions that must stand, no more and no fewer; `refused` is a word of the
    refusal of a file that no answer makes readable; `stuck` files stop at their questions.
    """

    raw: bytes
    t_s: np.ndarray
    head_m: np.ndarray
    asks: tuple[str, ...] = ()
    answers: dict[str, Any] = field(default_factory=dict)
    serial: str | None = None
    refused: str = ""
    stuck: bool = False
    problems: int = 0


class Run:
    """Times and heads to be written: a small flume's day or more."""

    def __init__(self, random: Random, *, rows: int = 0, step_s: int = 0, start: str = "") -> None:
        self.random = random
        self.step_s = step_s or random.choice([300, 600, 900, 900, 1800, 3600])
        rows = rows or random.randint(40, 160)
        begin = datetime.fromisoformat(start) if start else datetime.fromisoformat("2019-01-14")
        begin = begin.replace(tzinfo=UTC)
        if not start:
            begin += timedelta(minutes=random.randrange(0, 2_500_000, 5))
            begin = begin.replace(day=random.randint(14, 27))  # no date reads in two orders
        self.times = [begin + timedelta(seconds=self.step_s * i) for i in range(rows)]
        middle = random.uniform(0.12, 0.6)
        self.heads = [
            max(0.002, middle + 0.05 * np.sin(i / 9.0) + random.gauss(0, 0.001))
            for i in range(rows)
        ]
        self.temps = [random.uniform(11.0, 13.0) for _ in range(rows)]

    def written(self, unit: str, offset_m: float = 0.0) -> list[str]:
        """Return the heads as text in a unit; what rounding loses is lost in the truth."""
        texts = [f"{(h + offset_m) * PER_METRE[unit]:.{PLACES[unit]}f}" for h in self.heads]
        self.heads = [float(t) / PER_METRE[unit] - offset_m for t in texts]
        return texts

    def pressures(self, unit: str, sensor_m: float, air_pa: Sequence[float] | None = None):
        """Return pressures of the water over a sensor, with the air's when given."""
        air = [0.0] * len(self.heads) if air_pa is None else list(air_pa)
        texts = []
        for i, head in enumerate(self.heads):
            pa = (head - sensor_m) * 1000.0 * 9.80665 + air[i]
            texts.append(f"{pa / PA[unit]:.{PLACES[unit]}f}")
            self.heads[i] = (float(texts[-1]) * PA[unit] - air[i]) / 9806.65 + sensor_m
        return texts

    def temp_texts(self, places: int = 2) -> list[str]:
        return [f"{t:.{places}f}" for t in self.temps]

    def stamps(self, form: str) -> list[str]:
        return [t.strftime(form) for t in self.times]

    def export(self, lines: Sequence[str], codec: str = "utf-8", ending: str = "\r\n", **more: Any):
        offset = more.pop("offset_min", SITE_MIN)
        seconds = [int((t - EPOCH).total_seconds()) - offset * 60 for t in self.times]
        text = ending.join(lines) + ending
        return Export(
            text.encode(codec), np.array(seconds, dtype=np.int64), np.array(self.heads), **more
        )


def rows(sign: str, *columns: Sequence[str]) -> list[str]:
    return [sign.join(cells) for cells in zip(*columns, strict=True)]


def column(number: int, meaning: str, unit: str, **more: Any) -> dict[str, Any]:
    return {str(number): {"meaning": meaning, "unit": unit, **more}}


EXPORTS: dict[str, Callable[[Random], Export]] = {}


def export(make: Callable[[Random], Export]) -> Callable[[Random], Export]:
    EXPORTS[make.__name__] = make
    return make


def block_lines(names: Sequence[str], units: Sequence[str] = ()) -> list[str]:
    """Return a block of lines a channel, as a read-out program puts them above the readings."""
    lines = ["Read-out of 2026", "===========", "[Instrument]"]
    lines += ["    Serial number           =.K11-A2040", "    Site name               =Head race"]
    for k, name in enumerate(names, 1):
        lines += [f"[Channel {k}]"]
        if name:
            lines.append(f"    Identification          ={name}")
        level = "-20.00 degC" if k == 2 else "0.00 cm"
        lines += [
            f"    Reference level         ={level}",
            "    Range                   =70.00 degC",
        ]
        if units:
            lines.append(f"    UNIT: {units[k - 1]}")
    return [*lines, "[Data]", "160"]


# -- nothing names the columns ----------------------------------------------------------------


@export
def blocks_then_bare_rows(random: Random) -> Export:
    run = Run(random)
    run.heads = [h + 13.6 for h in run.heads]
    level = run.pressures("cmH2O", -0.1)
    table = rows("  ", run.stamps("%Y/%m/%d %H:%M:%S.0"), level, run.temp_texts())
    return run.export(
        block_lines(["", ""]) + table,
        asks=("head_column",),
        answers={
            "head_column": 3,
            "columns": column(3, "pressure, vented", "cmH2O"),
            "sensor_above_crest_m": -0.1,
        },
        serial="K11-A2040",
    )


@export
def blocks_that_say_what_and_unit(random: Random) -> Export:
    run = Run(random)
    table = rows("\t", run.stamps("%Y-%m-%d %H:%M:%S"), run.temp_texts(), run.written("cm"))
    return run.export(
        block_lines(["TEMPERATURE", "LEVEL"], ["°C", "cm"]) + table,
        asks=("head_column",),
        answers={"head_column": 3, "columns": {"3": {"meaning": "head"}}},
        serial="K11-A2040",
    )


@export
def prose_with_as_many_words_as_columns(random: Random) -> Export:
    run = Run(random)
    top = ["Level sensor depth 70 degC max", "Reference level under water m"]
    table = rows(" ", run.stamps("%Y-%m-%d %H:%M"), run.temp_texts(), run.written("m"),
                 run.temp_texts(1))  # fmt: skip
    return run.export(
        top + table,
        asks=("head_column",),
        answers={"head_column": 4, "columns": column(4, "head", "m")},
    )


@export
def no_header_at_all(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.written("mm"))
    return run.export(
        table,
        asks=("column 2", "unit of column 2"),
        answers={"columns": column(2, "head", "mm")},
    )


@export
def key_and_value_lines_in_two_columns(random: Random) -> Export:
    run = Run(random)
    top = ["Station;Head race", "Sensor depth;below datum", "Firmware;2"]
    table = rows(";", run.stamps("%d.%m.%Y %H:%M"), run.written("cm"))
    return run.export(
        top + table,
        asks=("column 2", "unit of column 2"),
        answers={"columns": column(2, "head", "cm")},
    )


@export
def names_that_say_nothing(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.temp_texts(), run.written("m"))
    return run.export(
        ["Time,S1,S2", *table],
        asks=("head_column",),
        answers={"head_column": "3", "columns": {"3": {"meaning": "head", "unit": "m"}}},
    )


# -- where units stand ------------------------------------------------------------------------


@export
def units_before_a_bracket_and_event_columns(random: Random) -> Export:
    run = Run(random)
    stamps = run.stamps("%m/%d/%y %I:%M:%S %p")
    level, temps = run.written("ft"), [f"{t * 1.8 + 32:.2f}" for t in run.temps]
    name = (
        '"#","Date Time, GMT+12:00","Water Level, feet (S/N: 1)","Temp, °F (S/N: 1)",'
        '"Host Connected (S/N: 1)","End Of File (S/N: 1)"'
    )
    table = [
        f"{i},{s},{h},{t},{'Logged' if i == 1 else ''},"
        for i, (s, h, t) in enumerate(zip(stamps, level, temps, strict=True), 1)
    ]
    return run.export(['"Plot Title: Bench 7"', name, *table], codec="cp1252")


@export
def unit_line_in_the_header(random: Random) -> Export:
    run = Run(random)
    top = ["Serial_number:", "2041377", "Location:", "Head race", "UNIT: m", "Date,Time,ms,LEVEL"]
    table = rows(",", run.stamps("%Y/%m/%d"), run.stamps("%H:%M:%S"), ["0"] * len(run.heads),
                 run.written("m"))  # fmt: skip
    return run.export(top + table, serial="2041377")


@export
def unit_lines_by_block_under_names(random: Random) -> Export:
    run = Run(random)
    top = ["Serial number: BX-20413", "LEVEL", "UNIT: cm", "Offset: 0.00 cm", "TEMPERATURE",
           "UNIT: °C", "Date,Time,LEVEL,TEMPERATURE"]  # fmt: skip
    table = rows(",", run.stamps("%Y/%m/%d"), run.stamps("%H:%M:%S"), run.written("cm"),
                 run.temp_texts())  # fmt: skip
    return run.export(top + table, codec="cp1252", serial="BX-20413")


@export
def unit_row_with_signs_it_does_not_know(random: Random) -> Export:
    run = Run(random)
    top = [
        '"TABLE","bench","9","quarter hour"',
        '"TIMESTAMP","RECORD","Stage_Avg","Humidity","Batt_Min"',
        '"TS","RN","ft","%","Volts"',
        '"","","Avg","Smp","Min"',
    ]
    table = rows(",", [f'"{s}"' for s in run.stamps("%Y-%m-%d %H:%M:%S")],
                 [str(i) for i in range(len(run.heads))], run.written("ft"),
                 run.temp_texts(1), ["12.6"] * len(run.heads))  # fmt: skip
    return run.export(top + table)


@export
def unit_row_of_fewer_cells_between_spaces(random: Random) -> Export:
    run = Run(random)
    top = ["Date        Time      Level   Temp", "                      mm      degC", "-" * 40]
    table = rows("   ", run.stamps("%Y-%m-%d %H:%M:%S"), run.written("mm"), run.temp_texts())
    return run.export(top + table)


@export
def names_of_several_words_between_spaces(random: Random) -> Export:
    run = Run(random)
    top = ["Water level in metres, see the label", "Date Time Water Level (in) Water Temp (°C)"]
    table = rows(" ", run.stamps("%d/%m/%Y %H:%M"), run.written("in"), run.temp_texts())
    return run.export(top + table)


@export
def unit_in_prose_only(random: Random) -> Export:
    run = Run(random)
    top = ["All levels are given in metres.", "Range 0 to 10 m", "Time,Stage"]
    table = rows(",", run.stamps("%Y-%m-%dT%H:%M:%S"), run.written("cm"))
    return run.export(
        top + table, asks=("unit of column 2",), answers={"columns": {"2": {"unit": "cm"}}}
    )


# -- several columns ----------------------------------------------------------------------------


@export
def raw_and_calibrated_under_two_rows(random: Random) -> Export:
    run = Run(random)
    level = run.written("mm")
    raw = [str(round(18_000 + 12 * float(x))) for x in level]
    top = ["Time,Level,Level,Battery", ",raw,calibrated,", ",counts,mm,V"]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), raw, level, ["3.6"] * len(raw))
    return run.export(top + table)


@export
def two_rows_of_names_that_disagree(random: Random) -> Export:
    run = Run(random)
    raw = [round(18_000 + 12_000 * h) for h in run.heads]
    run.heads = [(r - 18_000) / 12_000 for r in raw]
    top = ["Time,Level (counts)", "Time,Level (mm)"]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), list(map(str, raw)))
    scale = {"meaning": "head", "unit": "scaled", "zero": -1.5, "per_unit": 1 / 12_000}
    return run.export(top + table, asks=("unit of column 2",), answers={"columns": {"2": scale}})


@export
def a_named_column_without_one_number(random: Random) -> Export:
    run = Run(random)
    level = run.written("mm")
    top = ["Time;Level A (mm);Level B (mm);Comment"]
    table = rows(";", run.stamps("%Y-%m-%d %H:%M"), ["---"] * len(level), level,
                 [""] * len(level))  # fmt: skip
    return run.export(top + table, asks=("head_column",), answers={"head_column": 3})


@export
def two_levels(random: Random) -> Export:
    run = Run(random)
    other = [f"{random.uniform(80, 90):.1f}" for _ in run.heads]
    table = rows("|", run.stamps("%d-%b-%Y %H:%M"), other, run.written("mm"))
    return run.export(
        ["When|Level 1 (mm)|Level 2 (mm)", *table[::-1]],
        asks=("columns",),
        answers={"head_column": 3},
    )


@export
def average_beside_extremes(random: Random) -> Export:
    run = Run(random)
    level = run.written("m")
    low, high = ([f"{float(x) + d:.4f}" for x in level] for d in (-0.01, 0.01))
    top = ["Interval start;Level max (m);Level avg (m);Level min (m);Level std dev (m)"]
    table = rows(";", run.stamps("%Y-%m-%d %H:%M"), high, level, low, ["0.003"] * len(low))
    return run.export(top + table)


@export
def vented_pressure_beside_a_barometer_without_unit(random: Random) -> Export:
    run = Run(random)
    run.heads = [h + 0.2 for h in run.heads]
    level = run.pressures("kPa", -0.1)
    air = [f"{random.uniform(990, 1020):.1f}" for _ in level]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), level, air)
    return run.export(
        ["Time,Pressure (kPa),Barometer", *table], answers={"sensor_above_crest_m": -0.1}
    )


@export
def absolute_pressure_beside_a_barometer(random: Random) -> Export:
    run = Run(random)
    air = [round(random.uniform(990, 1020), 2) for _ in run.heads]
    level = run.pressures("psi", -0.25, [a * 100.0 for a in air])
    table = rows("\t", run.stamps("%Y-%m-%d %H:%M"), level, [f"{a:.2f}" for a in air],
                 run.temp_texts())  # fmt: skip
    return run.export(
        ["Time\tPressure psi\tBaro hPa\tTemp C", *table], codec="utf-16",
        answers={"sensor_above_crest_m": -0.25},
    )  # fmt: skip


@export
def pressure_with_the_air_and_no_barometer(random: Random) -> Export:
    run = Run(random)
    level = run.pressures("cmH2O", -0.2, [101_000.0] * len(run.heads))
    table = rows(";", run.stamps("%Y-%m-%d %H:%M"), level, run.temp_texts())
    return run.export(
        ["Time;Pressure (cm H2O);Temperature (°C)", *table],
        asks=("columns",),
        answers={"sensor_above_crest_m": -0.2},
        stuck=True,
    )


@export
def distance_and_air_in_fahrenheit(random: Random) -> Export:
    run = Run(random)
    bracket = 1.4
    temps = [f"{t * 1.8 + 32:.2f}" for t in run.temps]
    cells = []
    for i, head in enumerate(run.heads):
        warm = np.sqrt((273.15 + (float(temps[i]) - 32) / 1.8) / 293.15)
        cells.append(f"{(bracket - head) / warm * 1000:.1f}")
        run.heads[i] = bracket - float(cells[-1]) / 1000 * warm
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), cells, temps)
    return run.export(
        ["Time,Distance to water [mm],Air temp [°F]", *table],
        asks=("bracket_above_crest_m",),
        answers={"bracket_above_crest_m": bracket},
    )


@export
def level_over_a_datum(random: Random) -> Export:
    run = Run(random)
    level = run.written("m", offset_m=99.2235)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), level)
    return run.export(
        ["Time,Stage (m above datum)", *table],
        asks=("datum_above_crest_m",),
        answers={"datum_above_crest_m": -99.2235},
    )


@export
def current_loop_only(random: Random) -> Export:
    run = Run(random)
    raw = [f"{4 + 16 * h:.3f}" for h in run.heads]
    run.heads = [-0.25 + float(x) / 16 for x in raw]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), raw)
    scale = {"meaning": "head", "unit": "scaled", "zero": -0.25, "per_unit": 0.0625}
    return run.export(
        ["Time,Level (mA)", *table],
        asks=("unit of column 2",),
        answers={"columns": {"2": scale}},
    )


# -- times ----------------------------------------------------------------------------------------


@export
def time_in_the_seventh_column(random: Random) -> Export:
    run = Run(random)
    n = len(run.heads)
    table = rows(",", ["A"] * n, ["7"] * n, ["0.5"] * n, ["ok"] * n, run.temp_texts(),
                 run.written("m"), run.stamps("%Y-%m-%d %H:%M:%S"))  # fmt: skip
    return run.export(["Unit,Channel no,Battery (V),Flag,Temp (C),Head (m),Read at time", *table])


@export
def marks_before_the_clock(random: Random) -> Export:
    run = Run(random)
    stamps = [
        t.strftime("%Y/%m/%d ") + ("上午" if t.hour < 12 else "下午") + t.strftime(" %I:%M:%S")
        for t in run.times
    ]
    return run.export(["Time,Level (m)", *rows(",", stamps, run.written("m"))], codec="utf-8-sig")


@export
def marks_with_points_and_hard_spaces(random: Random) -> Export:
    run = Run(random)
    stamps = [
        t.strftime("%d/%m/%Y %I:%M:%S\u00a0") + ("a.\u00a0m." if t.hour < 12 else "p.\u00a0m.")
        for t in run.times
    ]
    level = [x.replace(".", ",") for x in run.written("cm")]
    return run.export(["Fecha y hora;Nivel [cm]", *rows(";", stamps, level)], codec="cp1252")


@export
def marks_nobody_knows(random: Random) -> Export:
    run = Run(random, rows=150, step_s=900)
    stamps = [t.strftime("%Y-%m-%d %I:%M ") + ("kv" if t.hour < 12 else "zs") for t in run.times]
    return run.export(["Time,Level (m)", *rows(",", stamps, run.written("m"))])


@export
def marks_that_never_meet_on_a_date(random: Random) -> Export:
    run = Run(random, rows=40, step_s=86_400, start="2026-03-14T16:00")
    run.times = [t if i % 2 else t - timedelta(hours=9) for i, t in enumerate(run.times)]
    stamps = [t.strftime("%Y-%m-%d %I:%M ") + ("kv" if t.hour < 12 else "zs") for t in run.times]
    return run.export(
        ["Time,Level (m)", *rows(",", stamps, run.written("m"))],
        asks=("afternoon_mark",),
        answers={"afternoon_mark": "zs"},
    )


@export
def twelve_hours_between_spaces(random: Random) -> Export:
    run = Run(random)
    table = rows(" ", run.stamps("%m/%d/%Y %I:%M:%S %p"), run.written("ft"))
    return run.export(["Date Time Level[ft]", *table])


@export
def staff_readings_every_fortnight(random: Random) -> Export:
    run = Run(random, rows=70, step_s=14 * 86_400, start="1999-02-15T09:20")
    run.times = [t + timedelta(minutes=random.randrange(0, 90, 5)) for t in run.times]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.written("m"))
    return run.export(["Date and time,Staff head (m)", *table])


@export
def a_record_through_the_year_2000(random: Random) -> Export:
    run = Run(random, rows=900, step_s=3600 * 12, start="1999-11-20T00:00")
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.written("m"))
    return run.export(["Time,Head (m)", *table])


@export
def two_times_one_of_arrival(random: Random) -> Export:
    run = Run(random)
    late = [(t + timedelta(seconds=random.randint(60, 900))).strftime("%Y-%m-%d %H:%M:%S")
            for t in run.times]  # fmt: skip
    table = rows(",", late, run.stamps("%Y-%m-%d %H:%M:%S"), run.written("m"))
    return run.export(
        ["Received at time,Measured at time,Level (m)", *table],
        asks=("time_column",),
        answers={"time_column": 2},
    )


@export
def clock_before_the_date(random: Random) -> Export:
    run = Run(random)
    table = rows("\t", run.stamps("%H:%M:%S"), run.stamps("%d.%m.%Y"), run.written("cm"))
    return run.export(["Time\tDate\tDepth [cm]", *table], codec="utf-16-le")


@export
def clock_apart_from_the_date(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d"), run.written("m"), run.stamps("%H:%M:%S"))
    return run.export(["Date,Level (m),Clock", *table], refused="the clock apart")


@export
def seconds_since_1970_with_decimals(random: Random) -> Export:
    run = Run(random)
    seconds = [f"{(t - EPOCH).total_seconds():.1f}" for t in run.times]
    table = rows(",", [f'"{s}"' for s in seconds], [f'"{x}"' for x in run.written("m")])
    return run.export(['"epoch time","water level (m)"', *table], offset_min=0)


@export
def zone_names_in_the_stamps(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M:%S NZST"), run.written("m"))
    return run.export(
        ["Time,Level (m)", *table], asks=("time_zone",), answers={"time_zone": "standard"}
    )


@export
def zone_of_daylight_in_the_header(random: Random) -> Export:
    run = Run(random)
    top = ["Time zone: Quillbeck Daylight Time", "Time,Level (m)"]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M:%S"), run.written("m"))
    return run.export(
        top + table, asks=("time_zone",), answers={"time_zone": "daylight"}, offset_min=780
    )


@export
def offset_in_the_header(random: Random) -> Export:
    run = Run(random)
    top = ["Logger start,2026-01-15 10:00,15", "Time zone,-05:00", "Time,Level (m)"]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M:%S"), run.written("m"))
    return run.export(top + table, offset_min=-300)


@export
def offsets_in_the_stamps(random: Random) -> Export:
    run = Run(random)
    table = rows(";", run.stamps("%Y-%m-%dT%H:%M:%S+10:30"), run.written("mm"))
    return run.export(["Zeitpunkt;Wasserstand (mm)", *table], codec="cp1252", offset_min=630)


@export
def days_up_to_twelve(random: Random) -> Export:
    run = Run(random, rows=96, step_s=3600, start="2026-03-04T00:00")
    table = rows(",", run.stamps("%d/%m/%Y %H:%M"), run.written("m"))
    return run.export(
        ["Time,Level (m)", *table], asks=("date_order",), answers={"date_order": "day first"}
    )


# -- numbers and rows ---------------------------------------------------------------------------


@export
def decimal_commas_and_a_footer(random: Random) -> Export:
    run = Run(random)
    level = [x.replace(".", ",") for x in run.written("cm")]
    temps = [x.replace(".", ",") for x in run.temp_texts()]
    table = rows(";", run.stamps("%d.%m.%Y"), run.stamps("%H:%M:%S"), level, temps)
    top = ["Gerät;7", "Seriennummer: 4471-B", "Datum;Uhrzeit;Pegel [cm];Temperatur [°C]"]
    return run.export([*top, *table, "", "Ende der Daten"], codec="cp1252", serial="4471-B")


@export
def names_repeated_and_events_at_the_end(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.written("m"), run.temp_texts())
    names = "Time,Level (m),Temp (C)"
    half = len(table) // 2
    end = (run.times[-1] + timedelta(minutes=3)).strftime("%Y-%m-%d %H:%M")
    lines = [names, *table[:half], names, *table[half:], f"{end},Host connected", f"{end},Stopped"]
    return run.export(lines, problems=2)


@export
def marks_of_missing_readings(random: Random) -> Export:
    run = Run(random)
    level = run.written("mm")
    for i in range(3, len(level), 7):
        level[i] = random.choice(["-9999", "NaN", "---", "", "#N/A", "-8888"])
        run.heads[i] = np.nan
    return run.export(["Time,Head (mm)", *rows(",", run.stamps("%Y-%m-%d %H:%M"), level)])


@export
def a_mark_deep_in_a_long_file(random: Random) -> Export:
    run = Run(random, rows=60_000, step_s=300, start="2024-01-14T00:00")
    level = run.written("mm")
    at = random.randrange(30_000, 50_000)
    level[at] = "9999"
    run.heads[at] = np.nan
    return run.export(["Time,Head (mm)", *rows(",", run.stamps("%Y-%m-%d %H:%M"), level)])


@export
def first_rows_all_missing(random: Random) -> Export:
    run = Run(random)
    level = run.written("m")
    for i in range(15):
        level[i], run.heads[i] = "---", np.nan
    return run.export(["Time\tHead m", *rows("\t", run.stamps("%Y-%m-%d %H:%M"), level)])


@export
def thousands_in_quotes(random: Random) -> Export:
    run = Run(random)
    run.heads = [h + 0.85 for h in run.heads]
    level = [f'"{float(x):,.1f}"' for x in run.written("mm")]
    return run.export(["Time,Head (mm)", *rows(",", run.stamps("%Y-%m-%d %H:%M"), level)])


@export
def points_that_group_threes(random: Random) -> Export:
    run = Run(random)
    whole = [round((h + 1.0) * 1000) for h in run.heads]
    run.heads = [x / 1000 for x in whole]
    level = [f"{x // 1000}.{x % 1000:03d}" for x in whole]
    return run.export(
        ["Time;Head (mm)", *rows(";", run.stamps("%Y-%m-%d %H:%M"), level)],
        asks=("decimal",),
        answers={"decimal": "comma", "thousands": "point"},
    )


@export
def one_comma_for_columns_and_decimals(random: Random) -> Export:
    run = Run(random)
    level = [x.replace(".", ",") for x in run.written("m")]
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), level, ["12"] * len(level))
    return run.export(["Time,Level (m),Temp (C)", *table], refused="comma")


@export
def one_comma_for_both_without_names(random: Random) -> Export:
    run = Run(random)
    run.heads = [0.05 + h / 10 for h in run.heads]
    level = [x.replace(".", ",") for x in run.written("m")]
    return run.export(rows(",", run.stamps("%Y-%m-%d %H:%M"), level), refused="comma")


@export
def units_that_change_on_the_way(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.written("m"))
    later = [line.split(",")[0] + f",{float(line.split(',')[1]) / 0.3048:.4f}" for line in table]
    half = len(table) // 2
    lines = ["Time,Level (m)", *table[:half], "Time,Level (ft)", *later[half:]]
    return run.export(lines, refused="change here")


@export
def one_row_a_quantity(random: Random) -> Export:
    run = Run(random)
    stamps = run.stamps("%Y-%m-%d %H:%M")
    lines = ["Time;Parameter;Value;Unit"]
    for stamp, level, temp in zip(stamps, run.written("m"), run.temp_texts(), strict=True):
        lines += [f"{stamp};LEVEL;{level};m", f"{stamp};TEMP;{temp};degC"]
    return run.export(lines, refused="more than one series")


@export
def date_and_clock_in_parts(random: Random) -> Export:
    run = Run(random)
    parts = [[str(getattr(t, part)) for t in run.times]
             for part in ("year", "month", "day", "hour", "minute")]  # fmt: skip
    table = rows(",", *parts, run.written("cm"))
    return run.export(["Year,Month,Day,Hour,Minute,Stage cm", *table])


@export
def unit_beside_each_reading(random: Random) -> Export:
    run = Run(random)
    table = rows(";", run.stamps("%d.%m.%Y %H:%M"), run.written("cm"), ["cm"] * len(run.heads))
    return run.export(["Time;Stage;Unit", *table])


@export
def offset_in_its_own_column(random: Random) -> Export:
    run = Run(random)
    table = rows(" ", run.stamps("%Y-%m-%d %H:%M:%S"), ["+09:30"] * len(run.heads),
                 run.written("m"))  # fmt: skip
    return run.export(["Date Time Offset Level[m]", *table], offset_min=570)


@export
def a_length_that_is_not_named(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.written("cm"))
    return run.export(
        ["Time,S1 [cm]", *table],
        asks=("column 2",),
        answers={"columns": column(2, "head", "cm")},
    )


@export
def twelve_hours_without_marks(random: Random) -> Export:
    run = Run(random, rows=150, step_s=900)
    table = rows(",", run.stamps("%Y-%m-%d %I:%M"), run.written("m"))
    return run.export(["Time,Level (m)", *table], refused="counts to 12")


@export
def download_time_in_utc(random: Random) -> Export:
    run = Run(random)
    table = rows(",", run.stamps("%Y-%m-%d %H:%M"), run.written("m"))
    return run.export(
        ["Downloaded 2026-11-20 10:00 UTC", "Time,Level (m)", *table],
        asks=("time_zone",),
        answers={"time_zone": "standard"},
    )


@export
def utc_beside_the_local_time(random: Random) -> Export:
    run = Run(random)
    far = [(t - timedelta(hours=12)).strftime("%Y-%m-%d %H:%M") for t in run.times]
    table = rows(",", far, run.stamps("%Y-%m-%d %H:%M"), run.written("m"))
    return run.export(
        ["Time (UTC),Time (local),Level (m)", *table],
        asks=("time_column",),
        answers={"time_column": 2},
    )
