"""Nothing has happened later than now: entries, the moments in them, photos and their clocks."""

from __future__ import annotations

import io
import os
from datetime import UTC, datetime
from pathlib import Path

import pytest
from PIL import Image

from advisor.base.attachments import Attachments
from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.planning.job import Laid
from advisor.record.canonical import Json
from advisor.record.entry import iso, quantity
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.moments import AHEAD_S
from advisor.work.photo_dated import dated_ahead
from advisor.work.photos import Photo
from advisor.work.workbench import Workbench

NOW_S = datetime(2031, 5, 14, 9, 0, tzinfo=UTC).timestamp()
SOON_S, LATER_S = NOW_S + AHEAD_S, NOW_S + AHEAD_S + 1
STILL = "found a time still to come; accepted: now or before"


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    bench = Workbench(store, root / "resources")
    bench.load_demo(NOW_S)
    bench.settings.set("person", "A. Hand")
    return bench


def coat(bench: Workbench) -> str:
    return bench.job_in_hand().next_coats()[0].id


def kept_of(bench: Workbench, kind: str, at_s: float, **data: Json) -> ByHand:
    of_area = kind in ("reading", "preparation")
    area = bench.job_in_hand().areas[0].id if of_area else ""
    return ByHand(kind, data, at_s, area, "" if of_area else coat(bench))


@pytest.mark.parametrize(
    ("kind", "data"),
    [
        ("reading", {"air_temp": quantity("18.5", "°C", "typed")}),
        ("preparation", {"what": "dried and wiped"}),
        ("observation", {"what": "hard"}),
        ("application", {"event": "finish"}),
        ("film", {"film": "wet", "readings": [quantity("90", "µm", "typed")]}),
        ("defect", {"defect": "sags"}),
        ("non-conformance", {"what": "humidity"}),
        ("batch", {"product": "x"}),
    ],
)
def test_no_entry_of_later_than_now(bench: Workbench, kind: str, data: dict[str, Json]) -> None:
    head = bench.record.head()
    with pytest.raises(InputError, match=STILL):
        keep_by_hand(bench, kept_of(bench, kind, LATER_S, **data), NOW_S)
    assert bench.record.head() == head
    keep_by_hand(bench, kept_of(bench, kind, SOON_S, **data), NOW_S)  # a clock a little fast


@pytest.mark.parametrize(
    ("kind", "data", "name"),
    [
        ("preparation", {"what": "dried and wiped", "finished": ""}, "Finished"),
        ("application", {"event": "start", "began": ""}, "First patch"),
    ],
)
def test_no_moment_in_an_entry_either(
    bench: Workbench, kind: str, data: dict[str, Json], name: str
) -> None:
    field = next(key for key, value in data.items() if value == "")
    head = bench.record.head()

    def keep(moment_s: float) -> None:
        told = data | {field: iso(moment_s, "UTC")}
        keep_by_hand(bench, kept_of(bench, kind, NOW_S, **told), NOW_S)

    with pytest.raises(InputError, match=f"{name}: {STILL}"):
        keep(LATER_S)
    assert bench.record.head() == head
    keep(SOON_S)


def test_a_correction_moves_nothing_ahead(bench: Workbench) -> None:
    told = kept_of(bench, "preparation", NOW_S, what="washed", finished=iso(NOW_S, "UTC"))
    entry = keep_by_hand(bench, told, NOW_S)
    head = bench.record.head()
    for field in ("at", "finished"):
        with pytest.raises(InputError, match=STILL):
            bench.record.correct(entry.number, {field: iso(LATER_S, "UTC")}, "wrong", NOW_S)
    assert bench.record.head() == head


def test_what_else_the_event_changes_is_not_changed(bench: Workbench) -> None:
    """The coat, the wiped surface and the reading stay as they were."""
    job, latest = bench.job_in_hand(), bench.latest_values(LATER_S)
    area = job.areas[0].id
    wiped = bench._logged(job, "dried")
    with pytest.raises(InputError, match=STILL):
        bench.lay_coat(coat(bench), NOW_S, LATER_S, NOW_S)
    with pytest.raises(InputError, match=STILL):
        bench.log_dried(LATER_S, area, NOW_S)
    with pytest.raises(InputError, match=STILL):
        keep_by_hand(bench, kept_of(bench, "reading", LATER_S,
                                    air_temp=quantity("3", "°C", "typed")), NOW_S)  # fmt: skip
    assert bench.job_in_hand() == job
    assert bench._logged(job, "dried") == wiped
    assert bench.latest_values(LATER_S) == latest
    bench.lay_coat(coat(bench), NOW_S, SOON_S, NOW_S)
    assert bench.job_in_hand().coat(job.next_coats()[0].id).laid == Laid(NOW_S, SOON_S)


# --- photos ----------------------------------------------------------------------------------


def picture(path: Path, taken: str = "", offset: str = "", form: str = "JPEG") -> Path:
    image, made = Image.new("RGB", (4, 3)), io.BytesIO()
    notes = Image.Exif()
    if taken:
        notes.get_ifd(0x8769)[0x9003] = taken
    if offset:
        notes.get_ifd(0x8769)[0x9011] = offset
    image.save(made, form, exif=notes.tobytes())
    path.write_bytes(made.getvalue())
    os.utime(path, (NOW_S - 60, NOW_S - 60))
    return path


def test_a_photo_of_later_than_now_is_refused(bench: Workbench, tmp_path: Path) -> None:
    path, head = picture(tmp_path / "a.jpg"), bench.record.head()
    with pytest.raises(InputError, match=STILL):
        bench.record.attach_photo(Photo(path), NOW_S, LATER_S)
    assert bench.record.head() == head
    assert not Attachments(bench.store.path).folder.exists()  # no file without its entry
    assert "flags" not in bench.record.attach_photo(Photo(path), NOW_S, SOON_S).data


@pytest.mark.parametrize(
    ("taken", "offset", "doubted"),
    [
        ("", "", False),
        ("2031:05:14 09:59:59", "", False),  # the shop is an hour ahead of UTC
        ("2031:05:14 10:10:00", "", True),
        ("2031:05:14 10:10:00", "+02:00", False),
        ("2031:05:14 08:10:00", "-01:00", True),
        ("2032:01:01 00:00:00", "", True),
        ("    :  :     :  :  ", "", False),  # the standard's own "not known"
        ("2031:13:45 99:00:00", "", False),
        ("2032:01:01 00:00:00", "nonsense", False),
    ],
)
@pytest.mark.parametrize("form", ["JPEG", "PNG"])
def test_a_camera_ahead_is_doubted(
    bench: Workbench, tmp_path: Path, taken: str, offset: str, doubted: bool, form: str
) -> None:
    path = picture(tmp_path / "a", taken, offset, form)
    entry = bench.record.attach_photo(Photo(path), NOW_S)
    flags = str(entry.data.get("flags", ""))
    assert flags.startswith("the camera's clock says 203") == doubted
    assert bool(flags) == doubted


def test_the_files_own_date_ahead_is_doubted(bench: Workbench, tmp_path: Path) -> None:
    path = picture(tmp_path / "a.jpg")
    os.utime(path, (LATER_S + 1, LATER_S + 1))
    flags = bench.record.attach_photo(Photo(path), NOW_S).data["flags"]
    assert flags == f"the file's date says {iso(LATER_S + 1, bench.record.zone)}, " + (
        "a time still to come"
    )
    os.utime(path, (SOON_S, SOON_S))
    assert dated_ahead(path, "UTC", NOW_S) == ""


@pytest.mark.parametrize("cut", [3, 20, 40, 90, 200])
def test_a_torn_head_tells_nothing(tmp_path: Path, cut: int) -> None:
    path = picture(tmp_path / "a.jpg", "2032:01:01 00:00:00")
    whole = path.read_bytes()
    path.write_bytes(whole[:cut])
    os.utime(path, (NOW_S, NOW_S))
    assert dated_ahead(path, "UTC", NOW_S) in ("", dated_ahead_whole(path, whole))
    assert dated_ahead(tmp_path / "none", "UTC", NOW_S) == ""


def dated_ahead_whole(path: Path, whole: bytes) -> str:
    path.write_bytes(whole)
    os.utime(path, (NOW_S, NOW_S))
    return dated_ahead(path, "UTC", NOW_S)
