"""Items 7, 8 and 10: forms of time, date order, zones, clock changes, order and duplicates."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import FileFormatError, InputError
from advisor.climate.logs.importer import read_log
from advisor.climate.logs.stamps import kind_of_text, parse_stamps, wall_seconds
from advisor.climate.logs.words import month_of
from advisor.climate.logs.zones import to_utc, zone_of
from advisor.climate.readings import Flag, ImportedFile


def read(tmp_path: Path, text: str, **told: object) -> ImportedFile:
    path = tmp_path / "log.csv"
    path.write_text(text, encoding="utf-8")
    file = read_log(path, **told)  # type: ignore[arg-type]
    report = file.report
    assert report.rows_read == report.rows_used + report.rows_dropped
    assert report.rows_dropped == len(report.dropped)
    assert (np.diff(file.table.time_s) > 0).all()
    return file


def log(stamps: Sequence[str], header: str = "Time;Temp;RH") -> str:
    rows = "".join(f"{stamp};{10 + i / 10};{60 + i}\n" for i, stamp in enumerate(stamps))
    return f"{header}\n{rows}"


def utc(*fields: int) -> int:
    return int(datetime(*fields, tzinfo=UTC).timestamp())  # type: ignore[misc, arg-type]


HALF_PAST_THREE = utc(2031, 3, 25, 15, 30)


@pytest.mark.parametrize(
    "text",
    [
        "2031-03-25 15:30",
        "2031-03-25T15:30:00",
        "2031-03-25T15:30:00.123",
        "2031/03/25 15:30",
        "2031.03.25 15:30:00",
        "20310325T1530",
        "203103251530",
        "20310325153000",
        "20310325:1530",
        "25/03/2031 15:30",
        "25-03-2031 15:30",
        "25.03.2031 15:30",
        "25.3.31 15:30",
        "25.03.2031, 15:30:00",
        "25/03/31 03:30 PM",
        "25/03/31 3:30:00 p.m.",
        "25/03/2031 3:30PM",
        "25 Mar 2031 15:30",
        "25-Mar-31 15:30",
        "25. März 2031 15:30",
        "25 mars 2031 15:30",
        "25 marzo 2031 15:30",
        "25 mrt 2031 15:30",
        "March 25, 2031 3:30 PM",
        "Mar 25 2031 15:30",
        "Tue 25/03/2031 15:30",
        "2031年3月25日 15:30",
        "2031-03-25 15h30",
        '"2031-03-25 15:30"',
    ],
)
def test_every_form_of_a_stamp(text: str) -> None:
    assert kind_of_text(text) == "D"
    seconds, valid = wall_seconds(parse_stamps([text]), "dmy")
    assert valid[0]
    assert seconds[0] == HALF_PAST_THREE


@pytest.mark.parametrize(
    ("text", "hour"),
    [("12:00 AM", 0), ("12:30 a.m.", 0), ("01:00 AM", 1), ("12:00 PM", 12), ("11:00 pm", 23)],
)
def test_twelve_hour_clock(text: str, hour: int) -> None:
    seconds, _ = wall_seconds(parse_stamps([f"2031-03-25 {text}"]), "dmy")
    assert seconds[0] // 3600 * 3600 == utc(2031, 3, 25, hour)


@pytest.mark.parametrize(
    ("text", "offset_s"),
    [
        ("2031-03-25T15:30Z", 0),
        ("2031-03-25 15:30:00 UTC", 0),
        ("2031-03-25T15:30:00+01:00", 3600),
        ("2031-03-25T15:30:00-0330", -12_600),
        ("2031-03-25T15:30:00+05", 18_000),
        ("2031-03-25 15:30 CEST", 7200),
        ("25.03.2031 15:30 MEZ", 3600),
    ],
)
def test_zones_in_the_stamp(text: str, offset_s: int) -> None:
    assert parse_stamps([text]).offset_s[0] == offset_s


@pytest.mark.parametrize("text", ["21.4", "45", "", "-", "Door open", "12345678", "1013.2", "0.5"])
def test_what_is_no_time(text: str) -> None:
    assert kind_of_text(text) == ""


@pytest.mark.parametrize(
    ("text", "valid"),
    [
        ("2032-02-29 00:00", True),
        ("2031-02-29 00:00", False),
        ("2100-02-29 00:00", False),
        ("2031-04-31 00:00", False),
        ("2031-03-25 24:00", True),
        ("2031-03-25 24:01", False),
        ("2031-03-25 23:60", False),
    ],
)
def test_dates_that_do_not_exist(text: str, valid: bool) -> None:
    assert wall_seconds(parse_stamps([text]), "dmy")[1][0] == valid


def test_24_00_is_the_next_midnight() -> None:
    assert wall_seconds(parse_stamps(["2031-03-25 24:00"]), "dmy")[0][0] == utc(2031, 3, 26)


def test_days_agree_with_the_calendar_of_the_standard_library() -> None:
    days = np.arange(-20_000, 60_000, 7)
    texts = [str(np.datetime64(int(day), "D")) for day in days]
    seconds, valid = wall_seconds(parse_stamps(texts), "dmy")
    assert valid.all()
    np.testing.assert_array_equal(seconds, days * 86_400)


@pytest.mark.parametrize(
    ("name", "month"),
    [("Mrz", 3), ("août", 8), ("Dez", 12), ("dic", 12), ("May", 5), ("gen", 1), ("jui", None)],
)
def test_month_names(name: str, month: int | None) -> None:
    assert month_of(name) == month


@pytest.mark.parametrize(
    ("stamps", "first", "why"),
    [
        (["25/03/2031 10:00", "26/03/2031 10:00"], (3, 25), "over 12"),
        (["03/25/2031 10:00", "03/26/2031 10:00"], (3, 25), "over 12"),
        (["01/02/2031 23:00", "01/02/2031 23:30", "02/02/2031 00:00"], (2, 1), "leaps"),
        (["02/01/2031 23:00", "02/01/2031 23:30", "02/02/2031 00:00"], (2, 1), "leaps"),
        (["05/05/2031 10:00", "05/05/2031 11:00"], (5, 5), "equal"),
        (["3/9/2031 9:30", "3/9/2031 10:30", "3/10/2031 9:30"], (3, 9), "leaps"),
    ],
)
def test_date_order_is_decided_from_the_whole_file(
    tmp_path: Path, stamps: list[str], first: tuple[int, int], why: str
) -> None:
    file = read(tmp_path, log(stamps), time_zone="UTC")
    found = datetime.fromtimestamp(int(file.table.time_s[0]), UTC)
    assert (found.month, found.day) == first
    assert why in file.report.mapping["date order"]


def test_date_order_is_asked_for_when_the_file_cannot_tell(tmp_path: Path) -> None:
    text = log(["03/04/2031 10:00", "03/04/2031 11:00"])
    with pytest.raises(InputError, match="dmy or mdy"):
        read(tmp_path, text, time_zone="UTC")
    file = read(tmp_path, text, time_zone="UTC", date_order="mdy")
    assert file.table.time_s[0] == utc(2031, 3, 4, 10)
    assert "told by you" in file.report.mapping["date order"]


def test_mixed_date_orders_are_refused(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="mixed"):
        read(tmp_path, log(["25/03/2031 10:00", "03/26/2031 10:00"]), time_zone="UTC")


NAMED = "Time,Temp,RH\n2031-03-25 15:30,20,50\n2031-03-25 15:45,20,51\n"


def test_a_zone_must_be_given_for_wall_clock_times(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="--time-zone"):
        read(tmp_path, NAMED)
    with pytest.raises(InputError, match="IANA"):
        read(tmp_path, NAMED, time_zone="Atlantis")


@pytest.mark.parametrize(
    ("zone", "hour"),
    [("UTC", 15), ("Europe/Dublin", 15), ("Europe/Paris", 14), ("+01:00", 14), ("UTC-5", 20)],
)
def test_zones(tmp_path: Path, zone: str, hour: int) -> None:
    # 25 March 2031 is before the change of clocks in Europe (30 March).
    file = read(tmp_path, NAMED, time_zone=zone)
    assert file.table.time_s[0] == utc(2031, 3, 25, hour, 30)
    assert zone in file.report.mapping["zone"]


@pytest.mark.parametrize(
    ("text", "first"),
    [
        (NAMED.replace("15:30,", "15:30Z,").replace("15:45,", "15:45Z,"), HALF_PAST_THREE),
        (NAMED.replace("15:30,", "15:30+02:00,"), None),
        (NAMED.replace("Time,", '"Date Time, GMT+01:00",'), HALF_PAST_THREE - 3600),
        (NAMED.replace("Time,", "time_utc,"), HALF_PAST_THREE),
        ("Time zone: UTC+01:00\n\n" + NAMED, HALF_PAST_THREE - 3600),
        (f"timestamp,Temp\n{HALF_PAST_THREE},20\n{HALF_PAST_THREE + 60},20\n", HALF_PAST_THREE),
        (
            f"ts,time_ms,Temp\n1,{HALF_PAST_THREE}000,20\n2,{HALF_PAST_THREE}900,20\n",
            HALF_PAST_THREE,
        ),
    ],
)
def test_no_zone_is_needed_where_the_file_tells(
    tmp_path: Path, text: str, first: int | None
) -> None:
    if first is None:
        with pytest.raises(InputError, match="--time-zone"):
            read(tmp_path, text)  # the second row has no offset
        return
    assert read(tmp_path, text).table.time_s[0] == first


def test_a_zone_carried_by_the_stamp_beats_the_one_told(tmp_path: Path) -> None:
    text = NAMED.replace("15:30,", "15:30+02:00,").replace("15:45,", "15:45+02:00,")
    file = read(tmp_path, text, time_zone="America/New_York")
    assert file.table.time_s[0] == utc(2031, 3, 25, 13, 30)
    assert "carried" in file.report.mapping["zone"]


# European clocks went back on 29 October 2023 at 01:00 UTC and forward on 31 March 2024.
def test_the_repeated_hour_is_told_apart_by_order(tmp_path: Path) -> None:
    stamps = [
        f"2023-10-29 {clock}" for clock in ("01:30", "02:00", "02:30", "02:00", "02:30", "03:00")
    ]
    file = read(tmp_path, log(stamps), time_zone="Europe/Paris")
    assert file.report.rows_used == 6
    np.testing.assert_array_equal(np.diff(file.table.time_s), 1800)
    flagged = (file.table.flags & Flag.AMBIGUOUS_TIME) != 0
    assert flagged.tolist() == [False, True, True, True, True, False]
    backwards = read(tmp_path, log(stamps[::-1]), time_zone="Europe/Paris")
    np.testing.assert_array_equal(backwards.table.time_s, file.table.time_s)
    assert "newest first" in backwards.report.mapping["order"]


def test_an_hourly_log_through_the_repeated_hour(tmp_path: Path) -> None:
    stamps = [f"2023-10-29 0{hour}:00" for hour in (0, 1, 2, 2, 3)]
    file = read(tmp_path, log(stamps), time_zone="Europe/Paris")
    np.testing.assert_array_equal(np.diff(file.table.time_s), 3600)


def test_a_repeated_hour_logged_once_is_told(tmp_path: Path) -> None:
    stamps = [f"2023-10-29 0{hour}:00" for hour in (0, 1, 2, 3, 4)]
    file = read(tmp_path, log(stamps), time_zone="Europe/Paris")
    assert np.diff(file.table.time_s).tolist() == [3600, 3600, 7200, 3600]
    assert "once in the log" in " ".join(file.report.notes)


def test_the_missing_hour_is_no_gap(tmp_path: Path) -> None:
    stamps = [f"2024-03-31 {clock}" for clock in ("01:00", "01:30", "03:00", "03:30")]
    file = read(tmp_path, log(stamps), time_zone="Europe/Paris")
    np.testing.assert_array_equal(np.diff(file.table.time_s), 1800)


def test_a_stamp_in_the_missing_hour_is_explained(tmp_path: Path) -> None:
    stamps = [f"2024-03-31 {clock}" for clock in ("01:30", "02:00", "02:30", "03:00")]
    text = log(stamps)
    file = read(tmp_path, text, time_zone="Europe/Paris")
    assert [row.line for row in file.report.dropped] == [3, 4]
    assert "does not exist in Europe/Paris" in file.report.dropped[0].reason
    assert "+01:00" in file.report.dropped[0].reason
    assert read(tmp_path, text, time_zone="+01:00").report.rows_dropped == 0


def test_wall_clock_to_utc_against_the_standard_library() -> None:
    zone = zone_of("Australia/Lord_Howe")  # its clocks move by half an hour
    wall = np.arange(utc(2023, 1, 1), utc(2025, 1, 1), 900)
    found = to_utc(wall, zone, 900.0)
    good = ~found.repeated & ~found.missing
    for wall_s, time_s in list(zip(wall[good].tolist(), found.time_s[good].tolist(), strict=True))[
        ::300
    ]:
        naive = datetime.fromtimestamp(wall_s, UTC).replace(tzinfo=zone)
        assert naive.timestamp() == time_s
    assert found.missing.any()


@pytest.mark.parametrize(
    ("header", "rows"),
    [
        ("Date,Clock,Temp", ["25/03/2031,15:30,20", "26/03/2031,15:30,20"]),
        ("Datum;Uhrzeit;Temp", ["25.03.2031;15:30:00;20,5", "25.03.2031;15:31:00;20,5"]),
        ("Date,Time,Temp", ["25.03.2031,15.30,20", "25.03.2031,15.45,20"]),
        ("year,month,day,hour,minute,Temp", ["2031,3,25,15,30,20", "2031,3,25,15,45,20"]),
        ("Year,Month,Day,Hour,Minute,Temp", ["2031,Mar,25,15,30,20", "2031,Mar,25,15,45,20"]),
        ("Date,Time,Temp", ["2031-03-25,3:30 PM,20", "2031-03-25,3:45 PM,20"]),
        ("Temp,RH,Time,Date", ["20,50,15:30,2031-03-25", "20,50,15:45,2031-03-25"]),
    ],
)
def test_time_in_several_columns(tmp_path: Path, header: str, rows: list[str]) -> None:
    file = read(tmp_path, "\n".join([header, *rows, ""]), time_zone="UTC")
    assert file.report.rows_used == 2
    assert file.table.time_s[0] == HALF_PAST_THREE
    assert "put together" in file.report.mapping["time"]


def test_a_stamp_with_zone_wins_over_split_columns(tmp_path: Path) -> None:
    rows = "".join(
        f"A,2031,3,25,{hour},20,50,2031-03-25T{hour + 5:02d}:00:00Z\n" for hour in (1, 2)
    )
    file = read(tmp_path, "origin,year,month,day,hour,temp,humid,time_hour\n" + rows)
    assert file.table.time_s[0] == utc(2031, 3, 25, 6)
    assert "not needed" in file.report.mapping["time"]


@pytest.mark.parametrize(
    ("text", "first", "step"),
    [
        ("Time,Temp\n45000.5,20\n45000.75,20\n", utc(2023, 3, 15, 12), 21_600),
        ("Date system: 1904\n\nTime,Temp\n43538.5,20\n43538.75,20\n", utc(2023, 3, 15, 12), 21_600),
        ("Start: 2031-03-25 15:30\n\nElapsed (s),Temp\n0,20\n60,20\n", HALF_PAST_THREE, 60),
        ("Start time,25.03.2031 15:30\n\nElapsed min,Temp\n0,20\n5,20\n", HALF_PAST_THREE, 300),
        ("Beginn: 25. März 2031 15:30\n\nelapsed hours;Temp\n0;20\n1;20\n", HALF_PAST_THREE, 3600),
    ],
)
def test_times_as_numbers(tmp_path: Path, text: str, first: int, step: int) -> None:
    file = read(tmp_path, text, time_zone="UTC")
    assert file.table.time_s.tolist() == [first, first + step]


def test_elapsed_time_without_a_start_is_asked_for(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="Start"):
        read(tmp_path, "Elapsed (s),Temp\n0,20\n60,20\n", time_zone="UTC")


def test_a_twelve_hour_clock_without_its_marker(tmp_path: Path) -> None:
    hours = [f"{(hour - 1) % 12 + 1}:00" for hour in range(24)]
    stamps = [f"2031-03-{day} {hour}" for day in (25, 26) for hour in hours]
    file = read(tmp_path, log(stamps), time_zone="UTC")
    np.testing.assert_array_equal(np.diff(file.table.time_s), 3600)
    assert "without am or pm" in file.report.mapping["clock"]


def test_a_clock_reset_by_a_new_battery(tmp_path: Path) -> None:
    stamps = ["2031-03-25 15:30", "2031-03-25 15:45", "2000-01-01 00:00", "2000-01-01 00:15"]
    file = read(tmp_path, log([*stamps, "2031-03-26 10:00"]), time_zone="UTC")
    assert [row.line for row in file.report.dropped] == [4, 5]
    assert "new battery" in file.report.dropped[0].reason


def test_newest_first_is_turned_round(tmp_path: Path) -> None:
    file = read(tmp_path, log([f"2031-03-25 1{i}:00" for i in (5, 4, 3)]), time_zone="UTC")
    assert file.table.column("air_temp_c").tolist() == [10.2, 10.1, 10.0]
    assert "newest first" in file.report.mapping["order"]


def test_unsorted_rows_are_sorted_and_told(tmp_path: Path) -> None:
    file = read(tmp_path, log([f"2031-03-25 1{i}:00" for i in (1, 2, 0, 3)]), time_zone="UTC")
    assert file.table.column("air_temp_c").tolist() == [10.2, 10.0, 10.1, 10.3]
    assert "steps back 1 times" in file.report.mapping["order"]


def test_duplicates_identical_and_contradicting(tmp_path: Path) -> None:
    text = (
        "Time,Temp,RH\n2031-03-25 10:00,20,50\n2031-03-25 10:00,20,50\n"
        "2031-03-25 10:00,21,50\n2031-03-25 10:15,20,\n2031-03-25 10:15,,51\n"
    )
    file = read(tmp_path, text, time_zone="UTC")
    assert [(row.line, row.reason.split(" (")[0]) for row in file.report.dropped] == [
        (3, "duplicate of line 2"),
        (4, "contradicts line 2 at the same time; the first was kept"),
    ]
    assert file.table.column("air_temp_c").tolist() == [20, 20]
    assert file.table.column("rh_pct").tolist() == [50, 51]  # the second half came in its own row


def test_overlap_of_two_files(tmp_path: Path) -> None:
    first = [f"2031-03-25 1{i}:00,2{i},50" for i in range(4)]
    text = "\n".join(
        ["Time,Temp,RH", *first, "Time,Temp,RH", *first[2:], "2031-03-25 14:00,24,50", ""]
    )
    file = read(tmp_path, text, time_zone="UTC")
    assert (file.report.rows_read, file.report.rows_used, len(file.table)) == (8, 5, 5)


def test_steps_and_gaps_are_told(tmp_path: Path) -> None:
    stamps = [f"2031-03-25 0{i}:{m}" for i in range(3) for m in ("00", "14", "30", "44")]
    file = read(tmp_path, log([*stamps, "2031-03-25 09:00"]), time_zone="UTC")
    assert file.report.mapping["step"] == "mostly 15 min; 1 gaps over 3 h, the longest 6.3 h"


def test_limit_reads_only_the_first_rows(tmp_path: Path) -> None:
    file = read(tmp_path, log([f"2031-03-25 1{i}:00" for i in range(9)]), time_zone="UTC", limit=4)
    assert file.report.rows_read == 4
