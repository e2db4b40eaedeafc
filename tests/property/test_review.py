"""A look back against the same in plain loops (tests/oracle/plain_review), minute by minute."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.climate.readings import Origin, ReadingTable
from advisor.climate.series import series_from_table
from advisor.coatings.product import NextCoat
from advisor.planning.case import Previous
from advisor.planning.job import Coat, Laid
from advisor.planning.previous import Overcoating, bond
from advisor.planning.timeline import Phase, timeline
from advisor.record.review.interval import Below, interval
from advisor.record.review.limits import Asked, Found, reviewed
from advisor.record.review.observed import Rows, observed
from advisor.record.review.stages import Moment, Stages, stages
from advisor.record.review.told import told
from advisor.record.review.track import Tracks
from advisor.record.review_types import LimitInForce
from tests.helpers.products import case, gloss
from tests.oracle import plain_review as plain

MINUTE = 60
LIMIT = 12.0
#: Steps between readings in minutes: on, just under and just over every border of the rule.
STEPS = st.sampled_from([1, 7, 29, 30, 31, 60, 179, 180, 181, 239, 240, 269, 270, 271, 420])
READINGS = st.lists(st.tuples(STEPS, st.integers(80, 160)), min_size=1, max_size=9)


def look_back(readings: list[tuple[int, float]], first: int, applied: int, last: int) -> Found:
    """Review the surface against its lower limit from mixing to tack-free."""
    times = np.array([minute * MINUTE for minute, _ in readings], dtype=np.int64)
    columns = {"surface_temp_c": np.array([value for _, value in readings])}
    table = ReadingTable(times, columns, np.zeros(len(times), dtype=np.uint16))
    tracks = Tracks(observed([Rows(table, Origin.IMPORTED)]))
    end = Moment(last * MINUTE, last * MINUTE, known=True)
    stages = Stages(first * MINUTE, applied * MINUTE, end, end, until_s=1e9)
    limit = LimitInForce("surface_temp", "Surface", LIMIT, None, "°C", "data sheet")
    return reviewed(Asked(limit, Phase.TO_TACK_FREE, "surface"), tracks, stages)


def rows(steps: list[tuple[int, int]]) -> list[tuple[int, float]]:
    minutes = np.cumsum([step for step, _ in steps])
    return [(int(m), tenths / 10) for m, (_, tenths) in zip(minutes, steps, strict=True)]


@given(READINGS, st.integers(0, 900), st.integers(0, 500), st.integers(0, 900))
def test_minutes_outside_and_gaps_are_those_of_the_plain_loops(
    steps: list[tuple[int, int]], first: int, applying: int, drying: int
) -> None:
    readings, applied = rows(steps), first + applying
    last = applied + drying
    found = look_back(readings, first, applied, last)
    outside = plain.outside_minutes(readings, LIMIT, first, last)
    told = {
        minute
        for minute in range(first, last + 1)
        for span in found.review.outside
        # A crossing is a moment by itself: the minute on it is on the limit, within a millisecond.
        if span.from_s - 1e-3 <= minute * MINUTE <= span.to_s + 1e-3
        and (value := plain.value_at(readings, minute)) is not None
        and value < LIMIT - 1e-6
    }
    assert told == {m for m in outside if (plain.value_at(readings, m) or 0) < LIMIT - 1e-6}
    gaps = plain.gaps(readings, LIMIT, first, last, applied)
    assert [(g.from_s / MINUTE, g.to_s / MINUTE) for g in found.gaps] == gaps


@given(READINGS, st.integers(0, 900), st.integers(0, 500), st.integers(0, 900))
def test_the_standing_follows_from_the_minutes(
    steps: list[tuple[int, int]], first: int, applying: int, drying: int
) -> None:
    readings, applied = rows(steps), first + applying
    last = applied + drying
    review = look_back(readings, first, applied, last).review
    outside = plain.outside_minutes(readings, LIMIT, first, last)
    gaps = plain.gaps(readings, LIMIT, first, last, applied)
    if outside:
        assert review.standing == "outside"
    elif gaps:
        assert review.standing in ("not known", "outside")  # a crossing between two minutes
    if review.standing == "inside":
        assert not gaps
        assert not outside


@given(READINGS, st.integers(0, 900), st.integers(0, 500), st.integers(0, 900), st.integers(0, 8))
def test_a_further_reading_inside_never_makes_a_coat_stand_worse(
    steps: list[tuple[int, int]], first: int, applying: int, drying: int, place: int
) -> None:
    """A reading on the line between two others, or in a gap, adds knowledge and no breach."""
    readings, applied = rows(steps), first + applying
    last = applied + drying
    before = look_back(readings, first, applied, last).review.standing
    minute = readings[0][0] + 1 + 37 * place
    known = plain.value_at(readings, minute)
    if any(at == minute for at, _ in readings):
        return
    more = sorted([*readings, (minute, LIMIT + 2.0 if known is None else known)])
    after = look_back(more, first, applied, last).review.standing
    if before == "inside":
        assert after == "inside"


@given(
    st.lists(st.tuples(STEPS, st.integers(50, 350), st.integers(200, 850)), min_size=2, max_size=9)
)
def test_humidity_read_inside_its_limit_is_never_outside_between_readings(
    steps: list[tuple[int, int, int]],
) -> None:
    """Straight air and dew point can bulge over both ends; nobody read that."""
    minutes = np.cumsum([step for step, _, _ in steps])
    columns = {
        "air_temp_c": np.array([air / 10 for _, air, _ in steps]),
        "rh_pct": np.array([rh / 10 for _, _, rh in steps]),
    }
    table = ReadingTable(minutes.astype(np.int64) * MINUTE, columns,
                         np.zeros(len(steps), dtype=np.uint16))  # fmt: skip
    tracks = Tracks(observed([Rows(table, Origin.IMPORTED)]))
    last = float(minutes[-1]) * MINUTE
    end = Moment(last, last, known=True)
    whole = Stages(0.0, last, end, end, until_s=1e9)
    limit = LimitInForce("humidity", "Humidity", None, 85.0, "%", "data sheet")
    found = reviewed(Asked(limit, Phase.TO_TACK_FREE, "rh"), tracks, whole).review
    assert found.outside == ()
    assert found.worst == max(columns["rh_pct"])


#: Hourly surfaces, °C: cold enough to slow the clocks, never under the lowest row.
NIGHTS = st.lists(st.integers(10, 30), min_size=90, max_size=90)


def hourly(surface_c: list[int]) -> ReadingTable:
    times = np.arange(len(surface_c), dtype=np.int64) * 3600
    columns = {"surface_temp_c": np.array(surface_c, float)}
    return ReadingTable(times, columns, np.zeros(len(times), dtype=np.uint16))


@settings(max_examples=40)
@given(NIGHTS, st.integers(0, 60))
def test_tack_free_of_a_whole_log_is_the_planners_own(surface_c: list[int], fives: int) -> None:
    table, start = hourly(surface_c), 5 * 3600 + fives * 300
    series = series_from_table(table)
    plain_case = case(gloss(), apply_h=0.0)
    line = timeline(plain_case, series, np.array([start // 300], dtype=np.int64))
    tracks = Tracks(observed([Rows(table, Origin.IMPORTED)]))
    coat = Coat("a", "a", "side", "x", 1.0, laid=Laid(start, start))
    laid = stages(told(coat, ()), gloss(), tracks.surface, 1e9, None)
    for mine, theirs in ((laid.tack_free, line.tack_free), (laid.dew_safe, line.dew_safe)):
        assert mine.known == bool(not np.isnan(theirs[0]))
        if mine.known:
            # Both are the same sums; a microsecond is float rounding.
            assert abs(mine.likely_s - series.time_at(float(theirs[0]))) < 1e-3


@settings(max_examples=60)
@given(NIGHTS, st.integers(24, 980))
def test_interval_of_a_whole_log_says_what_the_planner_says(
    surface_c: list[int], fives: int
) -> None:
    table, painted = hourly(surface_c), 3600
    reached = min(painted + fives * 300, 88 * 3600)
    series = series_from_table(table)
    row = NextCoat("same", (24.0, 12.0, 6.0), (72.0, 36.0, 18.0))
    previous = Previous(gloss(), painted, painted)
    theirs = bond(Overcoating.of(previous, row, series), painted / 300, np.array([reached / 300]))
    tracks = Tracks(observed([Rows(table, Origin.IMPORTED)]))
    below = Below("b", "below", previous, row, float(reached), float(reached))
    mine = interval(below, tracks)
    early, closed, doubtful = (bool(x[0]) for x in (theirs.early, theirs.closed, theirs.doubtful))
    if early or closed:
        assert mine.standing == "outside"
    else:
        assert mine.standing == ("not known" if doubtful else "inside")
