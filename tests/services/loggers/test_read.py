"""Logger files as the field writes them: what is understood, asked, refused and kept."""

import io
import json
import tempfile

import numpy as np
import pytest

from app.errors import BadInput
from app.hydraulics.series.daily import daily_flow, total_volume_m3
from app.services.loggers.read import read_logger_file
from tests.hydraulics.series.test_daily import rows

SITE_MIN = 720


def stamps(days=3, first="2026-11-13", step_min=15):
    start = np.datetime64(first, "s")
    count = days * 24 * 60 // step_min
    return start + np.arange(count) * np.timedelta64(step_min * 60, "s")


def table(times, form="{0:%Y-%m-%d %H:%M},{1}", value="{:.3f}", header="Time,Level (m)\n"):
    lines = [
        form.format(moment, value.format(0.2 + 0.001 * (i % 50)))
        for i, moment in enumerate(times.tolist())
    ]
    return header + "\n".join(lines) + "\n"


def read(text, answers=None, **more):
    raw = text if isinstance(text, bytes) else text.encode()
    return read_logger_file(raw, utc_offset_min=SITE_MIN, answers=answers, **more)


def utc(times):
    return (times - np.timedelta64(SITE_MIN, "m")).astype(np.int64)


PLAIN = table(stamps())


def asked(file):
    return {question.key: question for question in file.questions}


def test_one_plain_sentence_says_what_was_understood():
    times = np.delete(stamps(31), [100, 101, 500, 1500])
    text = table(times, value="{:.3f}", header="Time,Level (mm)\n")
    text += text.splitlines()[-1] + "\n"
    file = read(text)
    assert (
        file.sentence == "2,972 rows, every 15 min, standard time, head in mm, 3 gaps, 1 duplicate"
    )
    assert file.questions == ()
    assert file.ready() is file
    assert np.array_equal(file.t_s, utc(times))


def test_every_guess_has_a_reason_and_the_alternatives():
    file = read(PLAIN)
    keys = {guess.key for guess in file.guesses}
    assert {"encoding", "delimiter", "decimal", "date_order", "time_zone", "missing"} <= keys
    assert all(guess.chosen and guess.why for guess in file.guesses)
    zone = next(guess for guess in file.guesses if guess.key == "time_zone")
    assert set(zone.alternatives) == {"utc", "daylight", "daylight changes"}


def test_preview_shows_ten_rows_at_each_end_as_written_and_as_understood():
    file = read(PLAIN)
    assert [shown.row for shown in file.first] == list(range(2, 12))
    assert file.last[-1].row == 289
    assert file.first[0].text == "2026-11-13 00:00,0.200"
    assert (file.first[0].site_time, file.first[0].head_m) == ("2026-11-13 00:00:00", 0.2)


def test_row_numbers_point_into_the_file():
    file = read("A remark\n\n" + PLAIN)
    lines = ("A remark\n\n" + PLAIN).split("\n")
    assert lines[int(file.row[7]) - 1].startswith("2026-11-13 01:45")


@pytest.mark.parametrize(
    "codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"]
)
@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
def test_code_pages_and_line_ends(codec, ending):
    text = PLAIN.replace("Time", "Zeit \u00e9 time").replace("\n", ending)
    file = read(text.encode(codec))
    assert np.array_equal(file.t_s, utc(stamps()))
    assert file.problem_count == 0


@pytest.mark.parametrize(
    ("header", "form"),
    [
        ("Time,Level (m)", "{0:%d/%m/%Y %H:%M},{1}"),
        ("Time,Level (m)", "{0:%m/%d/%Y %H:%M},{1}"),
        ("Date;Time;Level (m)", "{0:%d.%m.%y};{0:%H:%M:%S};{1}"),
        ("Date;Time;Level (m)", "{0:%y-%m-%d};{0:%H:%M:%S};{1}"),
        ("Time\tLevel (m)", "{0:%d-%b-%Y %I:%M %p}\t{1}"),
        ("Time|Level (m)", "{0:%Y-%m-%dT%H:%M:%S}|{1}"),
        ("Time Level[m]", "{0:%Y%m%d%H%M} {1}"),
        ("Date Time Level[m]", "{0:%Y-%m-%d} {0:%H:%M} {1}"),
        ("Year,Day,HHMM,Level (m)", "{0:%Y},{0:%j},{0:%H%M},{1}"),
        ("Record,Time,Level (m)", "1,{0:%Y-%m-%d %H:%M},{1}"),
    ],
)
def test_date_forms(header, form):
    file = read(table(stamps(20), form, header=header + "\n")).ready()
    assert np.array_equal(file.t_s, utc(stamps(20)))
    assert file.head_m[:3] == pytest.approx([0.200, 0.201, 0.202], abs=1e-12)


def test_numbers_as_times_are_read_and_said():
    serial = "".join(f"{46_000 + i / 96:.6f},0.2\n" for i in range(200))
    file = read("Time,Depth (m)\n" + serial)
    assert file.t_s[1] - file.t_s[0] == 900
    assert "spreadsheet day number" in file.sentence
    # 25569 is 1970-01-01 in the day numbers of spreadsheets (common practice)
    assert file.t_s[0] == (46_000 - 25_569) * 86_400 - SITE_MIN * 60
    for scale, name in ((1, "seconds"), (1000, "milliseconds")):
        text = "".join(f"{(1_790_000_000 + 900 * i) * scale},0.2\n" for i in range(50))
        file = read("Time,Depth (m)\n" + text)
        assert file.t_s[0] == 1_790_000_000
        assert name in file.sentence
        assert "UTC" in file.sentence


def test_twenty_four_hundred_is_midnight_of_the_next_day():
    hours = [f"2026-11-25 {hour:02d}:00,0.2\n" for hour in range(1, 25)]
    file = read("Time,Level (m)\n" + "".join(hours))
    assert file.step_s == 3600
    assert file.gaps == ()
    assert file.t_s.size == 24


def test_days_up_to_twelve_are_asked_never_guessed():
    text = table(stamps(9, "2026-03-01"), "{0:%d/%m/%Y %H:%M},{1}")
    file = read(text)
    question = asked(file)["date_order"]
    assert question.chosen == "day first"  # the suggestion: then the steps are even
    assert question.alternatives == ("month first",)
    with pytest.raises(BadInput, match=r"row 2, column 1.*date_order") as refused:
        file.ready()
    assert "day first, month first" in refused.value.remedy
    assert np.array_equal(read(text, {"date_order": "day first"}).ready().t_s, file.t_s)
    other = read(text, {"date_order": "month first"}).ready()
    assert other.t_s[0] == int(np.datetime64("2026-01-03", "s").astype(int)) - SITE_MIN * 60


def test_a_late_thirteenth_settles_the_order_of_a_long_file():
    minutes = stamps(14, "2026-03-01", step_min=1)  # the 13th is far below the first block
    file = read(table(minutes, "{0:%d/%m/%Y %H:%M},{1}"))
    assert file.questions == ()
    assert np.array_equal(file.t_s, utc(minutes))


def test_decimal_comma_and_thousands():
    comma = table(stamps(), "{0:%Y-%m-%d %H:%M};{1}", header="Time;Level (m)\n")
    file = read(comma.replace(".", ","))
    assert file.head_m[1] == 0.201
    assert file.questions == ()
    text = "".join(f'2026-11-25 {h:02d}:00,"1,2{h:02d}.5"\n' for h in range(24))
    assert read("Time,Level (mm)\n" + text).head_m[3] == pytest.approx(1.2035)
    text = "".join(f"2026-11-25 {h:02d}:00;1.2{h:02d},5\n" for h in range(24))
    assert read("Time;Level (mm)\n" + text).head_m[3] == pytest.approx(1.2035)


def test_a_comma_that_could_be_either_is_asked():
    text = "".join(f"2026-11-25 {h:02d}:00;1,2{h:02d}\n" for h in range(24))
    file = read("Time;Level (mm)\n" + text)
    assert "decimal" in asked(file)
    point = read("Time;Level (mm)\n" + text, {"decimal": "point"}).ready()
    assert point.head_m[3] == pytest.approx(1.203)
    comma = read("Time;Level (m)\n" + text, {"decimal": "comma"}).ready()
    assert comma.head_m[3] == pytest.approx(1.203)


def test_a_comma_for_columns_and_decimals_at_once_is_refused():
    text = "".join(f"2026-11-25 {h:02d}:00,0,2{h:02d}\n" for h in range(24))
    with pytest.raises(BadInput, match=r"row 2, column 3.*comma") as refused:
        read("Time,Level (m)\n" + text)
    assert "semicolons" in refused.value.remedy


def test_a_unit_that_is_not_written_is_asked_with_a_suggestion():
    text = PLAIN.replace("Level (m)", "Level")
    question = asked(read(text))["unit of column 2"]
    assert question.chosen == "m"
    assert "mm" in question.alternatives
    file = read(text, {"columns": {"2": {"unit": "mm"}}}).ready()
    assert file.head_m[0] == pytest.approx(0.0002)


def test_unit_row_below_the_names():
    file = read(table(stamps(), header="Time,Level\n,mm\n"))
    assert file.questions == ()
    assert "head in mm" in file.sentence


def test_raw_counts_need_a_scale():
    text = PLAIN.replace("Level (m)", "Level (mA)").replace(",0.", ",1")
    assert "mA" in asked(read(text))["unit of column 2"].why
    scale = {"meaning": "head", "unit": "scaled", "zero": -0.5, "per_unit": 0.001}
    file = read(text, {"columns": {"2": scale}}).ready()
    assert file.head_m[0] == pytest.approx(-0.5 + 0.001 * 1200)


def test_choices_are_remembered_for_the_same_logger():
    text = table(stamps(9, "2026-03-01"), "{0:%d/%m/%Y %H:%M};{1}", header="When;What\n")
    answers = {
        "date_order": "day first",
        "time_zone": "daylight",
        "columns": {"2": {"unit": "cm"}},
        "missing": ["0.2", "empty"],
    }
    file = read(text, answers).ready()
    kept = json.loads(json.dumps(file.choices))
    again = read(text, kept).ready()
    assert again.t_s.tobytes() == file.t_s.tobytes()
    assert again.head_m.tobytes() == file.head_m.tobytes()
    assert file.missing > 0
    assert again.missing == file.missing
    assert again.choices == file.choices


def test_serial_number_of_the_header():
    assert read("Logger serial no: AB-1234\n" + PLAIN).serial == "AB-1234"


# -- what the column means -----------------------------------------------------------------


def hourly(header, cells):
    return header + "".join(
        f"2026-11-{d:02d} 0{h}:00,{cells}\n" for d in range(10, 30) for h in range(9)
    )


def test_vented_pressure():
    file = read(hourly("Time,Pressure (kPa)\n", "10"), {"sensor_above_crest_m": -0.0205})
    assert file.ready().head_m[0] == pytest.approx(1.0197162 - 0.0205, abs=1e-7)
    psi = read(hourly("Time,Pressure (psi)\n", "0.5")).head_m[0]
    assert psi == pytest.approx(0.5 * 6894.757293 / 9806.65)
    water = read(hourly("Time,Pressure (mH2O)\n", "0.5")).head_m[0]
    assert water == pytest.approx(0.5)


def test_absolute_pressure_needs_and_uses_the_barometer():
    text = hourly("Time,Pressure (kPa)\n", "103.2")
    assert "barometer" in asked(read(text))["columns"].why
    with pytest.raises(BadInput, match="row 2, column"):
        read(text).ready()
    text = hourly("Time,Pressure (kPa),Baro (hPa),Temp (C)\n", "103.2,1012,11")
    file = read(text, {"sensor_above_crest_m": 0.0}).ready()
    assert "pressure, absolute in kPa" in file.sentence
    assert file.head_m[0] == pytest.approx(2000.0 / 9806.65)


@pytest.mark.parametrize(
    ("header", "cells"),
    [("Time,Pressure (kPa),Baro (hPa)", "103.2,1012"), ("Time,Pressure (kPa)", "2")],
    ids=["absolute", "vented"],
)
def test_the_height_of_a_pressure_sensor_is_asked_and_never_taken_as_nought(header, cells):
    text = hourly(header + "\n", cells)
    question = asked(read(text))["sensor_above_crest_m"]
    assert question.alternatives == ("metres",)
    with pytest.raises(BadInput, match="sensor_above_crest_m is not certain"):
        read(text).ready()
    assert "sensor_above_crest_m" not in read(text).choices  # what nobody said is not remembered
    for height in (0.0, -0.12):
        file = read(text, {"sensor_above_crest_m": height}).ready()
        assert file.head_m[0] == pytest.approx(2000.0 / 9806.65 + height)
        assert file.choices["sensor_above_crest_m"] == height


def test_distance_with_bracket_and_air_temperature():
    text = hourly("Time,Distance (cm),Air temp (C)\n", "80,15")
    assert "bracket_above_crest_m" in asked(read(text))
    file = read(text, {"bracket_above_crest_m": 1.2}).ready()
    shorter = 0.8 * np.sqrt((273.15 + 15) / (273.15 + 20))
    assert file.head_m[0] == pytest.approx(1.2 - shorter)


def test_level_over_a_datum():
    text = hourly("Time,Level RL (m)\n", "99.474")
    assert "datum_above_crest_m" in asked(read(text))
    file = read(text, {"datum_above_crest_m": -99.2235}).ready()
    assert file.head_m[0] == pytest.approx(0.2505)  # levels of the worked run, derived


def test_tailwater_comes_along():
    file = read(hourly("Time,Head (mm),Tailwater (mm)\n", "251,120")).ready()
    assert file.tailwater_m[0] == 0.120
    assert file.tailwater_m.size == file.head_m.size


def test_two_columns_that_could_be_the_head_are_asked():
    text = hourly("Time,Level 1 (mm),Level 2 (mm)\n", "251,120")
    assert "columns" in asked(read(text))
    file = read(text, {"columns": {"3": {"meaning": "head", "unit": "mm"}}}).ready()
    assert file.head_m[0] == 0.120


# -- time zones ----------------------------------------------------------------------------


def test_zone_in_the_stamps_in_the_header_and_answered():
    true = utc(stamps())
    stamped = table(stamps(), "{0:%Y-%m-%dT%H:%M:%S}+12:00,{1}")
    assert np.array_equal(read(stamped).t_s, true)
    assert "offset in the stamps" in read(stamped).sentence
    header = read(PLAIN.replace("Time", "Time (UTC+10:30)"))
    assert np.array_equal(header.t_s, true + 90 * 60)
    for answer, shift in (("utc", 43_200), ("daylight", -3600), ("+12:00", 0)):
        file = read(PLAIN, {"time_zone": answer})
        assert np.array_equal(file.t_s, true + shift)


def civil_day(hours):
    """Return the stamps of a day on which the civil clock changes at 02:00 or 03:00."""
    quarters = np.arange(-8, hours * 4 + 8) * 15
    change = 3 * 60 if hours == 25 else 2 * 60
    moved = np.where(quarters >= change, quarters + (24 - hours) * 60, quarters)
    return np.datetime64("2026-04-05", "s") + moved * np.timedelta64(60, "s")


@pytest.mark.parametrize(
    "row", [row for row in rows("clock") if row.id == "intervals_in_local_day"]
)
def test_civil_days_of_the_practice_table_lose_and_double_nothing(row):
    hours = row["given"]["local_day_hours"]
    moments = civil_day(hours)
    text = table(moments)
    question = asked(read(text))["time_zone"]
    assert question.chosen == "daylight changes"
    file = read(text, {"time_zone": "daylight changes"}).ready()
    assert file.t_s.size == moments.size
    assert np.all(np.diff(file.t_s) == 900)
    ahead = 13 if hours == 25 else 12  # a long day begins in daylight time, a short one does not
    assert file.t_s[0] == moments[0].astype(np.int64) - ahead * 3600
    day = moments.astype("M8[D]") == np.datetime64("2026-04-05")
    assert np.count_nonzero(day) == int(float(row["expected"]))
    q = np.full(file.t_s.size, 0.02)
    whole = 0.02 * 900 * (moments.size - 1)
    for offset in (0, 720, 780):
        days = daily_flow(file.t_s, q, utc_offset_min=offset)
        assert np.nansum(days.volume_m3) == pytest.approx(whole)
    assert total_volume_m3(file.t_s, q) == pytest.approx(whole)


def test_daylight_changes_that_are_not_there_are_refused():
    with pytest.raises(BadInput, match=r"row 2, column 1 \(Time\)"):
        read(PLAIN, {"time_zone": "daylight changes"})


# -- trouble -------------------------------------------------------------------------------


def test_one_bad_row_never_blocks_the_others_and_is_named():
    text = PLAIN.replace("2026-11-13 01:00", "2026-11-35 01:00").replace("0.207\n", "0.2x7\n", 1)
    text = text.replace("2026-11-14 00:00,", "2026-11-14 00:00 ")
    file = read(text)
    assert file.t_s.size == 286
    places = {(problem.row, problem.column) for problem in file.problems}
    assert places == {(6, "1 (Time)"), (9, "2 (Level (m))"), (98, "1 (Time)")}
    assert all(problem.rule and problem.remedy and problem.value for problem in file.problems)


def test_missing_marks_are_missing_not_readings():
    text = PLAIN
    for old, new in (("0.203\n", "-999\n"), ("0.204\n", "9999\n"), ("0.205\n", "---\n")):
        text = text.replace(old, new)
    file = read(text)
    assert file.missing == 18
    assert file.problem_count == 0
    assert np.nanmax(file.head_m) < 1
    assert "9999" in next(guess.chosen for guess in file.guesses if guess.key == "missing")


def test_same_reading_twice_is_ignored_and_another_value_is_shown():
    lines = PLAIN.splitlines()
    text = "\n".join([*lines, lines[5], lines[6].replace("0.205", "0.999")]) + "\n"
    file = read(text)
    assert file.t_s.size == 288
    assert (file.duplicates, file.conflicts, file.out_of_order) == (1, 1, 1)
    (problem,) = file.problems
    assert (problem.row, problem.value) == (291, "0.9990 m")
    assert "row 7" in problem.rule
    assert file.head_m[5] == 0.204 or file.head_m[5] == 0.205


@pytest.mark.parametrize("cut", [1, 3, 6, 9, 16, 20])
def test_a_last_row_cut_off_is_left_out_and_said(cut):
    file = read(PLAIN[: -cut - 1])
    assert file.t_s.size == 287
    assert "last row cut off" in file.sentence
    assert file.problems[-1].row == 289


def test_a_whole_last_row_without_line_end_counts():
    assert read(PLAIN.rstrip("\n")).t_s.size == 288


def test_footer_and_repeated_header_are_no_problem():
    file = read(PLAIN + PLAIN.replace("2026-11-1", "2026-12-1") + "\nEnd of data\nTotal,288\n")
    assert file.t_s.size == 576
    assert file.footer == ("End of data", "Total,288")
    assert file.problem_count == 0


def test_text_between_rows_is_a_problem():
    lines = PLAIN.splitlines()
    file = read("\n".join([*lines[:50], "battery changed", *lines[50:]]))
    assert [problem.row for problem in file.problems] == [51]
    assert file.t_s.size == 288


@pytest.mark.parametrize("era", ["1970-01-01", "2000-01-01", "2036-02-07"])
def test_a_reset_clock_is_refused_with_the_remedy_and_can_be_shifted(era):
    text = PLAIN + table(stamps(1, era), header="")
    file = read(text)
    assert file.t_s.size == 288
    (problem,) = file.problems
    assert (problem.row, problem.to_row) == (290, 385)
    assert "restart_at" in problem.remedy
    assert "1 clock reset" in file.sentence
    shifted = read(text, {"restart_at": "2026-11-20T10:00"})
    assert shifted.t_s.size == 384
    assert shifted.t_s[288] == utc(np.datetime64("2026-11-20T10:00", "s"))
    assert read(text, {"accept_dates": True}).t_s.size == 384
    with pytest.raises(BadInput, match="row 2, column 1"):
        read(table(stamps(1, era)))


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "no text"),
        (b"\x00" * 300, "no text"),
        (b"PK\x03\x04workbook", "plain text"),
        (b"%PDF-1.7", "plain text"),
        (bytes(range(256)) * 20, "row"),
        (b"hello\nworld\n", "no row with a time"),
        (b"a" * 100_000, "shorter"),
        (b"1,2,3\n4,5,6\n", "no row with a time"),
        (b"Time,Battery (V)\n2026-01-01 00:00,12\n2026-01-01 01:00,12\n", "no column gives a head"),
    ],
)
def test_what_is_no_logger_file_is_refused_with_row_and_column(raw, words):
    with pytest.raises(BadInput, match=words) as refused:
        read(raw)
    assert refused.value.field.startswith("row ")
    assert ", column " in refused.value.field
    assert refused.value.remedy


def test_long_files_are_read_in_blocks_with_progress_and_can_be_cancelled():
    times = stamps(3000)
    raw = table(times).encode()
    seen = []
    with tempfile.TemporaryFile() as upload:
        upload.write(raw)
        file = read_logger_file(
            upload, utc_offset_min=SITE_MIN, progress=lambda done, whole: seen.append((done, whole))
        )
        assert not upload.closed
        assert len(seen) > 2
        assert seen == sorted(seen)
        assert seen[-1] == (len(raw), len(raw))
        assert file.row.size == 288_000
        assert np.array_equal(file.t_s, utc(times))

        class Cancelled(Exception):  # noqa: N818
            pass

        def cancel(done, whole):
            raise Cancelled

        with pytest.raises(Cancelled):
            read_logger_file(upload, utc_offset_min=SITE_MIN, progress=cancel)
        assert not upload.closed


def test_a_spoilt_row_in_a_later_block_spoils_nothing_else():
    times = stamps(1500)
    lines = table(times).splitlines()
    lines[120_000] = "2026-xx"
    file = read("\n".join(lines) + "\n")
    assert file.t_s.size == times.size - 1
    assert [problem.row for problem in file.problems] == [120_001]


@pytest.mark.parametrize("header", ["(" * 30_000, "air" * 9000 + ",air" * 9000, "UTC" * 9000])
def test_a_header_made_to_tire_the_patterns_is_no_trouble(header):
    file = read(header + "\n" + PLAIN)
    assert file.t_s.size == 288


def test_answers_that_are_none_are_refused():
    with pytest.raises(BadInput, match="row 1, column 1"):
        read(PLAIN, ["day first"])


def test_the_bytes_given_are_not_touched():
    raw = io.BytesIO(PLAIN.encode())
    read_logger_file(raw, utc_offset_min=SITE_MIN)
    assert raw.getvalue() == PLAIN.encode()
