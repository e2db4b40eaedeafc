"""A log followed: encodings, folders, rotation while the program was away, the repeated hour."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from advisor.climate.live import marks
from advisor.climate.live.sensor import Sensor
from advisor.climate.live.tail import Tail, TailState
from advisor.climate.readings import Flag

START = 1_795_000_000
HEADER = "time,Temp (°C),RH (%)\n"
LATER = START + 1e7


def rows(first: int, last: int) -> str:
    return "".join(f"{START + 60 * k},{12 + k % 9 / 10},{60 + k % 7}\n" for k in range(first, last))


def times(first: int, last: int) -> list[int]:
    return [START + 60 * k for k in range(first, last)]


def follow(path: Path, state: TailState | None = None, **more: str) -> Tail:
    kind = "folder" if path.is_dir() else "file"
    sensor = Sensor("shed", "Shed", kind, path=str(path), **more)  # type: ignore[arg-type]
    return Tail(sensor, state or TailState(), "UTC")


def poll(tail: Tail) -> list[int]:
    found, more = [], True
    while more:
        taken = tail.take(LATER)
        tail.keep(taken)
        assert not taken.trouble
        found += [int(t) for part in taken.parts for t in part.table.time_s]
        more = taken.more
    return found


@pytest.mark.parametrize("codec", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_any_encoding_grows_by_whole_lines(tmp_path: Path, codec: str, end: str) -> None:
    path = tmp_path / "shed.csv"
    whole = (HEADER + rows(0, 40)).replace("\n", end).encode(codec)
    first = len((HEADER + rows(0, 5)).replace("\n", end).encode(codec))
    path.write_bytes(whole[:first])
    tail, got = follow(path), []
    got += poll(tail)
    for cut in range(first, len(whole), 37):  # not a multiple of any line or character
        with path.open("ab") as file:
            file.write(whole[cut : cut + 37])
        got += poll(tail)
    assert got == times(0, 40)


def test_a_half_written_line_waits(tmp_path: Path) -> None:
    path = tmp_path / "shed.csv"
    line = rows(3, 4)
    path.write_text(HEADER + rows(0, 3) + line[:-4], encoding="utf-8")
    tail = follow(path)
    assert poll(tail) == times(0, 3)
    with path.open("a", encoding="utf-8") as file:
        file.write(line[-4:])
    assert poll(tail) == times(3, 4)


def test_every_row_of_a_log_by_the_second_is_kept(tmp_path: Path) -> None:
    """The importer averages such logs where they are large; a live one never is."""
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + "".join(f"{START + k},20.{k % 9},50\n" for k in range(7200)), "utf-8")
    assert poll(follow(path)) == list(range(START, START + 7200))


def test_a_large_log_is_read_in_pieces(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from advisor.climate.live import tail as module

    monkeypatch.setattr(module, "CHUNK_BYTES", 5000)
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 3000), "utf-8")
    tail = follow(path)
    first = tail.take(LATER)
    assert first.more
    assert poll(tail) == times(0, 3000)


def test_what_was_renamed_while_away_is_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 10), "utf-8")
    tail = follow(path)
    got = poll(tail)
    with path.open("a", encoding="utf-8") as file:
        file.write(rows(10, 20))
    os.rename(path, tmp_path / "shed.csv.2")
    (tmp_path / "shed.csv.1").write_text(HEADER + rows(20, 30), "utf-8")  # came and went meanwhile
    path.write_text(HEADER + rows(30, 33), "utf-8")
    got += poll(follow(path, tail.state))
    assert sorted(got) == times(0, 33)
    assert len(got) == 33


def test_after_a_restart_a_long_log_is_read_by_its_own_head(tmp_path: Path) -> None:
    """The names of the columns stand far before the lines that go along with the new ones."""
    path = tmp_path / "shed.csv"
    lines = [f"{at},{50 + at // 60 % 7},{41 + at // 60 % 9 / 10}\n" for at in times(0, 5003)]
    path.write_text("time,RH (%),Temp (°F)\n" + "".join(lines[:5000]), "utf-8")
    tail = follow(path)
    assert len(poll(tail)) == 5000
    with path.open("a", encoding="utf-8") as file:
        file.writelines(lines[5000:])
    (part,) = follow(path, tail.state).take(LATER).parts
    rh, air = ([float(line.split(",")[k]) for line in lines[5000:]] for k in (1, 2))
    assert part.table.columns["rh_pct"].tolist() == rh
    # 1e-9: of the conversion of two decimals.
    assert np.allclose(part.table.columns["air_temp_c"], (np.array(air) - 32) / 1.8, atol=1e-9)


@pytest.mark.parametrize("left", [rows(0, 500), rows(0, 900) + rows(950, 1000)])
def test_a_log_cut_shorter_or_mended_by_hand_loses_no_new_row(tmp_path: Path, left: str) -> None:
    """It begins as before for longer than the fingerprint, and is no longer than it was."""
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 1000), "utf-8")
    tail = follow(path)
    poll(tail)
    path.write_text(HEADER + left + rows(1000, 1010), "utf-8")
    assert set(times(1000, 1010)) <= set(poll(tail))
    assert poll(tail) == []


def test_a_log_emptied_and_begun_with_other_columns_is_read_by_its_own_head(tmp_path: Path) -> None:
    """The same file on the disk: what was decided about its columns before is void."""
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 50), "utf-8")
    tail = follow(path)
    poll(tail)
    other = "".join(f"{at},{60 + at % 7},{12 + at % 9 / 10}\n" for at in times(50, 60))
    path.write_text("time,RH (%),Temp (°C)\n" + other, "utf-8")
    (part,) = tail.take(LATER).parts
    assert part.table.time_s.tolist() == times(50, 60)
    assert part.table.columns["rh_pct"].tolist() == [60.0 + at % 7 for at in times(50, 60)]


def test_a_line_without_end_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from advisor.climate.live import tail as module

    monkeypatch.setattr(module, "CHUNK_BYTES", 5000)
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 10), "utf-8")
    tail = follow(path)
    poll(tail)
    with path.open("a", encoding="utf-8") as file:
        file.write("x" * 6000)
    taken = tail.take(LATER)
    assert (taken.parts, taken.more) == ((), False)
    assert taken.trouble == f"{path}: a line without end"


def test_an_empty_folder_says_so(tmp_path: Path) -> None:
    taken = follow(tmp_path).take(LATER)
    assert (taken.parts, taken.trouble) == ((), f"{tmp_path}: no log in the folder")


def test_a_log_emptied_is_followed_from_its_new_beginning(tmp_path: Path) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 20), "utf-8")
    tail = follow(path)
    poll(tail)
    path.write_text("", "utf-8")
    assert poll(tail) == []
    path.write_text(HEADER + rows(20, 23), "utf-8")
    assert poll(tail) == times(20, 23)


def test_older_files_beside_it_are_not_read_at_first(tmp_path: Path) -> None:
    old = tmp_path / "shed.csv.1"
    old.write_text(HEADER + rows(0, 10), "utf-8")
    os.utime(old, (START, START))
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(10, 20), "utf-8")
    tail = follow(path)
    got = poll(tail)
    os.rename(path, tmp_path / "shed.csv.2")
    path.write_text(HEADER + rows(20, 25), "utf-8")
    assert got + poll(tail) == times(10, 25)


@pytest.mark.parametrize("name", ["shed2.csv", "shed-2.csv", "shed-north.csv", "other.csv.1"])
def test_another_loggers_file_is_no_older_one(tmp_path: Path, name: str) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 10), "utf-8")
    tail = follow(path)
    poll(tail)
    (tmp_path / name).write_text(HEADER + rows(500, 510), "utf-8")
    os.rename(path, tmp_path / "shed.csv.1")
    path.write_text(HEADER + rows(10, 12), "utf-8")
    assert poll(tail) == times(10, 12)


@pytest.mark.parametrize("name", ["shed.csv.1", "shed.1.csv", "shed-20261128.csv", "shed.csv-old"])
def test_an_older_file_goes_by_its_usual_names(tmp_path: Path, name: str) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 10), "utf-8")
    tail = follow(path)
    poll(tail)
    with path.open("a", encoding="utf-8") as file:
        file.write(rows(10, 15))
    os.rename(path, tmp_path / name)
    path.write_text(HEADER + rows(15, 17), "utf-8")
    assert poll(tail) == times(10, 17)


def test_a_folder_is_followed_from_its_newest_log(tmp_path: Path) -> None:
    folder = tmp_path / "logs"
    folder.mkdir()
    for day in range(3):
        path = folder / f"day{day}.csv"
        path.write_text(HEADER + rows(10 * day, 10 * day + 10), "utf-8")
        os.utime(path, (START + day, START + day))
    (folder / "readme.md").write_text("no log", "utf-8")
    tail = follow(folder)
    assert poll(tail) == times(20, 30)
    with (folder / "day2.csv").open("a", encoding="utf-8") as file:
        file.write(rows(30, 32))
    (folder / "day3.csv").write_text(HEADER + rows(32, 40), "utf-8")
    assert poll(tail) == times(30, 40)
    assert poll(follow(folder, tail.state)) == []


def test_a_folder_of_many_new_logs_is_read_some_at_a_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A logger of a file an hour, copied over after a season: more than a program may open."""
    from advisor.climate.live import tail as module

    folder = tmp_path / "logs"
    folder.mkdir()
    (folder / "h0000.csv").write_text(HEADER + rows(0, 2), "utf-8")
    tail = follow(folder)
    poll(tail)
    for k in range(1, 400):
        (folder / f"h{k:04}.csv").write_text(HEADER + rows(2 * k, 2 * k + 2), "utf-8")
    real, seen = module.opened, list[marks.Seen]()

    def counted(path: Path, active: bool) -> marks.Seen:
        seen.append(real(path, active))
        assert sum(not one.file.closed for one in seen) <= module.MOST_OPEN
        return seen[-1]

    monkeypatch.setattr(module, "opened", counted)
    assert sorted(poll(tail)) == times(2, 800)
    assert len(seen) == 399  # each once


@pytest.mark.parametrize("count", [40, 130])
def test_a_log_renamed_many_times_since_is_read_whole(tmp_path: Path, count: int) -> None:
    """A logger that begins a file each hour, while the program was closed for days."""
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 2), "utf-8")
    tail = follow(path)
    assert poll(tail) == times(0, 2)
    began_ns = path.stat().st_mtime_ns
    for k in range(1, count):
        path.rename(tmp_path / f"shed.csv.{count - k}")
        path.write_text(HEADER + rows(2 * k, 2 * k + 2), "utf-8")
        os.utime(path, ns=(began_ns + k * 10**9, began_ns + k * 10**9))
    found = [one for _ in range(5) for one in poll(tail)]
    assert sorted(found) == times(2, 2 * count)


@pytest.mark.parametrize("kind", ["file", "folder"])
@pytest.mark.parametrize("fault", ["no log", "may not be opened"])
def test_many_files_of_no_use_do_not_keep_the_log_from_being_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str, fault: str
) -> None:
    from advisor.climate.live import tail as module

    path, real = tmp_path / "shed.csv", module.opened
    path.write_text(HEADER + rows(0, 2), "utf-8")
    tail = follow(tmp_path if kind == "folder" else path)
    poll(tail)
    path.rename(tmp_path / "shed.0.csv")
    path.write_text(HEADER + rows(2, 5), "utf-8")
    changed_ns = path.stat().st_mtime_ns
    for k in range(1, 2 * module.MOST_OPEN):
        other = tmp_path / f"shed.{k}.csv"
        other.write_text("no log\nat all\n", "utf-8")
        os.utime(other, ns=(changed_ns - k, changed_ns - k))

    def opened(path: Path, active: bool) -> marks.Seen:
        if fault != "no log" and path.name not in ("shed.csv", "shed.0.csv"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, active)

    monkeypatch.setattr(module, "opened", opened)
    found = []
    for _ in range(5):
        taken = tail.take(LATER)
        tail.keep(taken)
        found += [int(t) for part in taken.parts for t in part.table.time_s]
    assert found == times(2, 5)
    assert not taken.more


@pytest.mark.parametrize("kind", ["file", "folder"])
def test_a_log_that_may_not_be_opened_holds_no_other_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    """Such as one put aside for its owner alone, or held by another program."""
    from advisor.climate.live import tail as module

    path, aside = tmp_path / "shed.csv", tmp_path / "shed.1.csv"
    path.write_text(HEADER + rows(0, 10), "utf-8")
    tail = follow(tmp_path if kind == "folder" else path)
    poll(tail)
    with path.open("a", encoding="utf-8") as file:
        file.write(rows(10, 12))
    os.rename(path, aside)
    path.write_text(HEADER + rows(12, 15), "utf-8")
    real = module.opened

    def refused(found: Path, active: bool) -> marks.Seen:
        if found == aside:
            raise PermissionError(13, "Permission denied", str(found))
        return real(found, active)

    monkeypatch.setattr(module, "opened", refused)
    taken = tail.take(LATER)
    tail.keep(taken)
    assert taken.parts[0].table.time_s.tolist() == times(12, 15)
    assert taken.trouble == f"{aside}: permission denied"
    monkeypatch.setattr(module, "opened", real)
    assert poll(tail) == times(10, 12)


def test_a_share_that_vanishes_is_told_and_gone_on_with(tmp_path: Path) -> None:
    folder = tmp_path / "share"
    folder.mkdir()
    path = folder / "shed.csv"
    path.write_text(HEADER + rows(0, 10), "utf-8")
    tail = follow(path)
    poll(tail)
    os.rename(folder, tmp_path / "away")
    taken = tail.take(LATER)
    assert (taken.parts, "no such file" in taken.trouble) == ((), True)
    os.rename(tmp_path / "away", folder)
    with path.open("a", encoding="utf-8") as file:
        file.write(rows(10, 12))
    assert poll(tail) == times(10, 12)


@pytest.mark.parametrize("step_s", [600, 5])
def test_the_hour_that_comes_twice_is_told_apart_row_by_row(tmp_path: Path, step_s: int) -> None:
    """In Dublin 01:00 to 02:00 comes twice on 25 October 2026, first at +01:00.

    At 5 s that hour is longer than the lines that usually go along with new ones.
    """
    path = tmp_path / "shed.csv"
    first, count = 1_792_882_800, 4 * 3600 // step_s  # 2026-10-24T23:00Z, 00:00 summer time
    at = [first + step_s * k for k in range(count)]
    clocks = [np.datetime64(t + (3600 if t < first + 7200 else 0), "s") for t in at]
    lines = [f"{str(c).replace('T', ' ')},{12 + k % 90 / 10:.1f},{60 + k % 7}\n"
             for k, c in enumerate(clocks)]  # fmt: skip
    path.write_text(HEADER + "".join(lines[:3]), "utf-8")
    tail = follow(path, time_zone="Europe/Dublin")
    got, each = poll(tail), max(1, count // 24 - 1)
    for k in range(3, count, each):
        with path.open("a", encoding="utf-8") as file:
            file.writelines(lines[k : k + each])
        got += poll(tail)
    assert got == at


def test_day_and_month_are_decided_again_when_the_log_shows_it(tmp_path: Path) -> None:
    """On 5 May nobody can tell; the next day the rows go on one way only."""
    path = tmp_path / "shed.csv"
    day = [f"05/05/2026 {h:02d}:00:00,12.{h % 9},60\n" for h in range(24)]
    path.write_text(HEADER + "".join(day), "utf-8")
    tail = follow(path, time_zone="UTC")
    got = poll(tail)
    with path.open("a", encoding="utf-8") as file:
        file.write("05/06/2026 00:00:00,12.0,61\n05/06/2026 01:00:00,12.1,61\n")
    at = 1_778_025_600  # 2026-05-06T00:00Z
    taken = tail.take(at + 7200)
    assert [int(t) for part in taken.parts for t in part.table.time_s] == [at, at + 3600]
    assert got[-1] == at - 3600


def test_one_quantity_a_line_comes_together_over_two_looks(tmp_path: Path) -> None:
    path = tmp_path / "shed.csv"
    head = "time,channel,value,unit\n"
    whole = [
        f"{np.datetime64(START + 600 * k, 's')}Z,{line}\n"
        for k in range(6)
        for line in (f"temperature,{12 + k},°C", f"humidity,{60 + k},%")
    ]
    path.write_text(head + "".join(whole[:7]), "utf-8")  # the fourth moment has no humidity yet
    tail = follow(path)
    first = tail.take(LATER)
    tail.keep(first)
    with path.open("a", encoding="utf-8") as file:
        file.writelines(whole[7:])
    second = tail.take(LATER).parts[0].table
    assert second.time_s.tolist() == [START + 600 * k for k in (3, 4, 5)]
    assert second.columns["rh_pct"].tolist() == [63.0, 64.0, 65.0]


def test_a_unit_that_changes_in_the_middle_is_never_taken_up(tmp_path: Path) -> None:
    """An import says it for somebody to look at; of a followed log nobody would know."""
    path = tmp_path / "shed.csv"
    path.write_text("time,Temp,RH\n" + "".join(f"{START + 60 * k},18.{k % 5},60\n"
                    for k in range(60)), "utf-8")  # fmt: skip
    tail = follow(path)
    poll(tail)
    with path.open("a", encoding="utf-8") as file:
        file.writelines(f"{START + 60 * k},59.{k % 5},60\n" for k in range(60, 70))
        file.writelines(f"{START + 60 * k},64.{k % 5},60\n" for k in range(70, 80))
    table = tail.take(LATER).parts[0].table
    air = table.columns["air_temp_c"]
    assert air[:10].tolist() == [59 + k % 5 / 10 for k in range(60, 70)]  # as told, to be judged
    assert np.isnan(air[10:]).all()  # no shop is at 64 °C
    assert (table.flags[10:] & Flag.FAULT).all()


def test_marks_stay_few(tmp_path: Path) -> None:
    path = tmp_path / "shed.csv"
    path.write_text(HEADER + rows(0, 2), "utf-8")
    tail = follow(path)
    got = poll(tail)
    for k in range(1, 100):
        os.rename(path, tmp_path / f"shed.csv.{k}")
        path.write_text(HEADER + rows(2 * k, 2 * k + 2), "utf-8")
        got += poll(tail)
    assert got == times(0, 200)
    assert len(tail.state.marks) <= marks.MOST_MARKS
