"""The demo tells its story on any date: go this morning, then care, waits, sanding, no telling.

No numbers from outside: the air is invented, so these tests hold the story, not the weather.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.base.paths import resource
from advisor.climate.readings import COLUMNS, ReadingTable
from advisor.climate.series import Series, series_from_table
from advisor.coatings.lint import lint
from advisor.coatings.product import Product
from advisor.coatings.product_file import read_product
from advisor.planning.case import Case, Previous
from advisor.planning.hours import parse_hours
from advisor.planning.job import Coat, Job
from advisor.planning.job_file import job_to_toml, parse_job, read_job
from advisor.planning.verdict import Judged, Verdict, judge
from advisor.planning.words import Words
from advisor.work.demo_air import demo_log, demo_outdoors
from advisor.work.demo_history import LAID, demo_laid
from advisor.work.films import Film, film_tonight

ZONE = ZoneInfo("Europe/London")
#: Winter, both clock changes of 2026 (29 March, 25 October) with the days around, new year.
DATES = (
    "2026-01-15", "2026-02-28", "2026-03-26", "2026-03-28", "2026-03-29", "2026-03-30",
    "2026-05-14", "2026-07-01", "2026-10-22", "2026-10-24", "2026-10-25", "2026-10-26",
    "2026-12-31", "2028-02-29",
)  # fmt: skip
MORNING = ("08:00", "09:30", "11:00")
DAY_STARTS = 288


def at(day: str, clock: str) -> float:
    return datetime.fromisoformat(f"{day}T{clock}").replace(tzinfo=ZONE).timestamp()


def products() -> dict[str, Product]:
    files = sorted(resource("demo", "products").glob("*.toml"))
    return {product.id: product for product in map(read_product, files)}


def demo_table(now_s: float, zone: ZoneInfo) -> ReadingTable:
    """The shed's air over the whole weather, what is still to come included."""
    job = read_job(resource("demo", "job.toml"))
    assert job.shop is not None
    return demo_log(demo_outdoors(now_s, zone), job.shop, now_s, zone)


def demo(now_s: float) -> tuple[Job, Series]:
    job = demo_laid(read_job(resource("demo", "job.toml")), now_s)
    return job, series_from_table(demo_table(now_s, ZONE))


def judged(job: Job, series: Series, coat: Coat, starts: np.ndarray) -> Judged:
    shelf, below = products(), job.below(coat)
    previous = None
    if below is not None and below.laid is not None:
        previous = Previous(shelf[below.product_id], below.laid.start_s, below.laid.end_s)
    mask = parse_hours(job.working_hours).mask(series, ZONE)
    product = shelf[coat.product_id].by_method(coat.method)
    return judge(Case(product, job.apply_h(coat), previous, hours_mask=mask), series, starts)


def starts_from(series: Series, now_s: float, count: int) -> np.ndarray:
    first = int(np.ceil(series.index_of(now_s)))
    return np.arange(first, min(first + count, len(series)), dtype=np.int64)


@pytest.mark.parametrize("day", DATES)
@pytest.mark.parametrize("clock", MORNING)
def test_second_gloss_is_a_go_this_morning(day: str, clock: str) -> None:
    now_s = at(day, clock)
    job, series = demo(now_s)
    for side in ("port", "starboard"):
        found = judged(job, series, job.coat(f"{side}-gloss-2"), starts_from(series, now_s, 1))
        assert found.verdict(0) is Verdict.GO, (found.broken(0), found.unknowns(0))


@pytest.mark.parametrize("day", DATES)
@pytest.mark.parametrize("clock", MORNING)
def test_the_week_shows_every_answer(day: str, clock: str) -> None:
    now_s = at(day, clock)
    job, series = demo(now_s)
    starts = starts_from(series, now_s, 7 * DAY_STARTS)
    there = parse_hours(job.working_hours).mask(series, ZONE)[starts]
    seen: set[Verdict] = set()
    sand = False
    for coat in job.next_coats():
        found = judged(job, series, coat, starts)
        seen |= {found.verdict(int(j)) for j in np.flatnonzero(there)}
        sand |= any(found.sand_first(int(j)) for j in np.flatnonzero(there))
    assert seen == set(Verdict)
    assert sand


@pytest.mark.parametrize("day", DATES)
def test_tonight_has_films_that_cannot_take_dew_yet(day: str) -> None:
    now_s = at(day, "08:00")
    job, series = demo(now_s)
    shelf, words = products(), Words("metric", ZONE, now_s)
    for area in ("port", "starboard"):
        coat, after = job.coat(f"{area}-gloss-1"), job.coat(f"{area}-gloss-2")
        assert coat.laid is not None
        film = Film(coat, coat.laid, shelf[coat.product_id], shelf[after.product_id])
        told = film_tonight(job, film, series, words, now_s)
        assert told.dew_safe_s is not None
        assert told.dew_safe_s > now_s
        assert told.wet_at_s is None
        assert told.next_from_s is not None
        assert told.next_from_s < now_s


@pytest.mark.parametrize("day", DATES)
def test_what_is_laid_kept_to_its_data_sheets(day: str) -> None:
    now_s = at(day, "08:00")
    job, series = demo(now_s)
    for coat in job.coats:
        if coat.laid is None:
            continue
        assert coat.laid.end_s < now_s
        # Mixed half an hour before the brush, the longest induction of the shelf at 20 °C.
        start = int(series.index_of(coat.laid.start_s - 1800))
        found = judged(job, series, coat, np.array([start], dtype=np.int64))
        assert found.verdict(0) is Verdict.GO, (coat.id, found.broken(0), found.unknowns(0))


@pytest.mark.parametrize("day", DATES)
def test_air_is_the_same_all_day_and_starts_today(day: str) -> None:
    early, late = (demo_table(at(day, clock), ZONE) for clock in ("00:00", "23:59"))
    assert np.array_equal(early.time_s, late.time_s)
    for name, values in early.columns.items():
        assert np.array_equal(values, late.columns[name], equal_nan=True)
    midnight = datetime.fromisoformat(day).replace(tzinfo=ZONE)
    assert early.time_s[0] == (midnight - timedelta(days=14)).timestamp()
    assert early.time_s[-1] == (midnight + timedelta(days=7, hours=6)).timestamp()
    assert (np.diff(early.time_s) == 3600).all()
    assert set(early.columns) <= set(COLUMNS)


def test_air_has_its_front_its_drying_day_and_wet_timber() -> None:
    now_s = at("2026-05-14", "12:00")
    table = demo_table(now_s, ZONE)
    margin = table.columns["surface_temp_c"] - table.columns["dew_point_c"]
    day = (table.time_s - at("2026-05-14", "00:00")) / 86400
    assert (table.columns["dew_point_c"] <= table.columns["air_temp_c"]).all()
    assert table.columns["rh_pct"].max() <= 100
    front, drying = (day >= 3.4) & (day < 4), (day >= 5.4) & (day < 5.8)
    assert margin[front].max() < 2  # K, under the hold margin of every sheet
    assert margin[drying].min() > 5  # K
    # The front brings air over a shed still cold from the days before: wet timber.
    assert margin[front].min() < 0
    outdoors = demo_outdoors(now_s, ZONE)
    assert (outdoors.column("dew_point_c")[front] > table.columns["surface_temp_c"][front]).any()


def test_the_shed_is_steadier_than_the_weather() -> None:
    """A stone shed halves the day's swing at least (common practice)."""
    now_s = at("2026-05-14", "12:00")
    table, outdoors = demo_table(now_s, ZONE), demo_outdoors(now_s, ZONE)
    inside, outside = table.columns["air_temp_c"][24:48], outdoors.column("air_temp_c")[24:48]
    assert np.ptp(inside) < np.ptp(outside) / 2


def test_air_in_a_zone_with_a_quarter_hour() -> None:
    """Rows stay on whole UTC hours where local midnight is not (Chatham, +12:45)."""
    zone = ZoneInfo("Pacific/Chatham")
    table = demo_table(at("2026-05-14", "12:00"), zone)
    assert (table.time_s % 3600 == 0).all()
    outdoors = demo_outdoors(at("2026-05-14", "12:00"), zone)
    hottest = int(outdoors.time_s[24 + np.argmax(outdoors.column("air_temp_c")[24:48])])
    # Hourly rows: the peak at 15:00 local lies within half an hour of the hottest row.
    assert abs(datetime.fromtimestamp(hottest, zone).hour - 15) <= 1


def test_products_are_data_sheets_without_faults() -> None:
    shelf = products()
    for product in shelf.values():
        assert product.status == "from data sheet"
        assert product.source.title == "invented data sheet for the demo"
        assert {f.severity for f in lint(product)} <= {"note"}
    job = read_job(resource("demo", "job.toml"))
    assert {coat.product_id for coat in job.coats} == set(shelf)
    assert {coat_id for coat_id, *_ in LAID} <= {coat.id for coat in job.coats}


def test_demo_job_reads_back_with_what_is_laid() -> None:
    job, _ = demo(at("2026-10-25", "09:00"))
    assert parse_job(job_to_toml(job), "demo.toml") == job
    first = job.coat("port-gloss-1").laid
    assert first is not None
    # 24 October was still summer time: 10:10 is 09:10 UTC, though today is winter time.
    assert first.start_s == datetime.fromisoformat("2026-10-24T09:10:00+00:00").timestamp()
