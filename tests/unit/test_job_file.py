"""Job files: what is written reads back; every fault is one line that says what would do."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import FileFormatError
from advisor.climate.place import Place
from advisor.climate.shop.shop import Shop
from advisor.climate.skin import COLOURS, Skin
from advisor.planning.job import Area, Coat, Job, Laid
from advisor.planning.job_file import job_to_toml, parse_job, read_job

TEXT = """
schema = 1
id = "gig"
name = "Pilot gig"
place = "shed"
time_zone = "Europe/London"
working_hours = "mon-fri 17:00-21:00, sat 08:00-18:00"

[[area]]
id = "port"
name = "port side"
area_m2 = 9

[[coat]]
id = "port-1"
name = "first gloss"
area = "port"
product = "some-gloss"
pace_m2_per_h = 7.5
method = "roll"
order = "reverse"
laid_from = 2024-05-14T10:10:00+01:00
laid_to = "2024-05-14T11:25:00+01:00"
"""


def test_reads_every_key() -> None:
    job = parse_job(TEXT, "gig.toml")
    assert job == Job(
        "gig", "Pilot gig", "shed", "Europe/London",
        (Area("port", "port side", 9.0),),
        (Coat("port-1", "first gloss", "port", "some-gloss", 7.5, "roll", True,
              Laid(1715677800.0, 1715682300.0)),),
        "mon-fri 17:00-21:00, sat 08:00-18:00",
    )  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "where", "accepted"),
    [
        ('name = "port side"', 'nam = "port side"', "area[0].nam", 'nearest key is "name"'),
        ("area_m2 = 9", "area_m2 = 0", "area[0].area_m2", "above 0"),
        ("area_m2 = 9", "area_m2 = true", "area[0].area_m2", "square metres"),
        ("area_m2 = 9", 'area_m2 = 9\nsubstrate = "timbr"', "area[0].substrate", '"timber"'),
        ('"Europe/London"', '"Europe/Londn"', "time_zone", '"Europe/London"'),
        ('"Europe/London"', '"../../etc"', "time_zone", "IANA"),
        ("17:00-21:00", "21:00-17:00", "working_hours", "an end after the start"),
        ("mon-fri", "mon-fry", "working_hours", "mon, tue"),
        ('area = "port"', 'area = "prt"', "coat[0].area", 'the nearest is "port"'),
        ('"roll"', '"rol"', "coat[0].method", '"roll"'),
        ('"reverse"', '"back"', "coat[0].order", '"reverse"'),
        ("10:10:00+01:00", "10:10:00", "coat[0].laid_from", "offset"),
        ("2024-05-14T10:10:00+01:00", "2024-05-14", "coat[0].laid_from", "offset"),
        ('"2024-05-14T11:25:00+01:00"', '"soon"', "coat[0].laid_to", "offset"),
        ('"2024-05-14T11:25:00+01:00"', '"2024-05-14T09:00:00+01:00"', "coat[0].laid_to", "before"),
        ('laid_to = "2024-05-14T11:25:00+01:00"', "", "coat[0].laid_to", "beside laid_from"),
        ("schema = 1", "schema = 2", "schema", "1, the version"),
        ('id = "gig"', 'id = "a b"', "id", "a word of letters"),
    ],
)
def test_a_fault_names_key_found_and_accepted(
    old: str, new: str, where: str, accepted: str
) -> None:
    assert old in TEXT
    with pytest.raises(FileFormatError) as caught:
        parse_job(TEXT.replace(old, new, 1), "gig.toml")
    assert caught.value.where == where
    assert accepted in caught.value.accepted
    assert str(caught.value).startswith("gig.toml: ")
    assert "\n" not in str(caught.value)


OUTDOORS = """area_m2 = 9
substrate = "filled hull"
outdoors = true
thickness_mm = 18
tilt_deg = 60
heading_deg = 225
colour = "dark"
"""
SHED = """[shop]
kind = "stone shed"
volume_m3 = 420
latitude_deg = 52.5
longitude_deg = 0.75
altitude_m = 4

[[area]]"""


def test_shop_and_what_an_area_faces_read_back() -> None:
    text = TEXT.replace("area_m2 = 9\n", OUTDOORS).replace("[[area]]", SHED, 1)
    job = parse_job(text, "gig.toml")
    assert job.shop == Shop("stone shed", 420.0, Place(52.5, 0.75, 4.0))
    assert job.areas[0].skin == Skin("filled hull", 18.0, True, 60.0, 225.0, COLOURS["dark"])
    assert parse_job(job_to_toml(job), "gig.toml") == job


@pytest.mark.parametrize(
    ("old", "new", "where", "accepted"),
    [
        ("longitude_deg = 0.75\n", "", "shop.longitude_deg", "beside latitude_deg"),
        ("latitude_deg = 52.5", "latitude_deg = 525", "shop.latitude_deg", "-90 to 90"),
        ("volume_m3 = 420", "volume_m3 = 0", "shop.volume_m3", "cubic metres"),
        ('"stone shed"', '"stone shd"', "shop.kind", '"stone shed"'),
        ("volume_m3", "volume", "shop.volume", "volume_m3"),
    ],
)
def test_a_fault_in_the_shop_is_named(old: str, new: str, where: str, accepted: str) -> None:
    text = TEXT.replace("[[area]]", SHED, 1)
    with pytest.raises(FileFormatError) as caught:
        parse_job(text.replace(old, new, 1), "gig.toml")
    assert caught.value.where == where
    assert accepted in caught.value.accepted


@pytest.mark.parametrize("block", ["[[area]]", "[[coat]]"])
def test_ids_are_unique(block: str) -> None:
    at = TEXT.index(block)
    end = TEXT.index("[[coat]]") if block == "[[area]]" else len(TEXT)
    with pytest.raises(FileFormatError, match="again"):
        parse_job(TEXT + TEXT[at:end], "gig.toml")


def test_an_area_without_coats_and_a_text_that_is_not_toml() -> None:
    with pytest.raises(FileFormatError, match="not TOML"):
        parse_job("schema = ", "gig.toml")
    with pytest.raises(FileFormatError, match="coat"):
        parse_job(TEXT[: TEXT.index("[[coat]]")], "gig.toml")


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(FileFormatError, match="no such file"):
        read_job(tmp_path / "none.toml")
    with pytest.raises(FileFormatError):
        read_job(tmp_path)
    bad = tmp_path / "bad.toml"
    bad.write_bytes(b'schema = 1\nname = "\xff"\n')
    with pytest.raises(FileFormatError, match="line 2"):
        read_job(bad)
    bad.write_bytes(b"#" * 1_000_001)
    with pytest.raises(FileFormatError, match="over 1 MB"):
        read_job(bad)


def test_file_with_byte_order_mark_and_windows_line_ends(tmp_path: Path) -> None:
    file = tmp_path / "gig.toml"
    file.write_bytes(b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode())
    assert read_job(file) == parse_job(TEXT, "gig.toml")


def test_a_job_without_coats_reads_back() -> None:
    job = replace(parse_job(TEXT, "gig.toml"), coats=(), working_hours="", surface_lag_h=2.5)
    assert parse_job(job_to_toml(job), "gig.toml") == job


def test_the_repeated_hour_in_autumn_reads_back() -> None:
    """01:30 happens twice on 27 October 2024 in London; the offset tells which."""
    job = parse_job(TEXT, "gig.toml")
    first = 1729989000.0  # 00:30 UTC, 01:30 with offset +01:00
    for start in (first, first + 3600):
        told = job.with_coat(replace(job.coats[0], laid=Laid(start, start + 60)))
        assert parse_job(job_to_toml(told), "gig.toml") == told


WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), min_size=1).filter(
    lambda text: bool(text.strip())
)
SIZES = st.floats(1e-3, 9e3)


@given(WORDS, WORDS, SIZES, SIZES, st.booleans(), st.integers(100_000, 4_000_000_000))
def test_round_trip(name: str, place: str, m2: float, pace: float, flip: bool, at: int) -> None:
    laid = Laid(float(at), float(at + 3600)) if flip else None
    job = Job(
        "j", name[:400], place[:400], "America/New_York",
        (Area("a", name[:400], m2, "steel", flip, "rising" if flip else None),),
        (Coat("c", place[:400], "a", "p", pace, "spray", flip, laid),),
        "08:00-18:00", m2 / 9e3 if flip else None,
    )  # fmt: skip
    assert parse_job(job_to_toml(job), "j.toml") == job
