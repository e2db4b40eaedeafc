"""The archive: every good forecast comes back as it was, once, and the newest always stays."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.store import Store
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.sources import archive, forecast_json
from advisor.climate.sources.archive import Body
from advisor.climate.spread.errors import made_s
from tests.helpers.forecast_answers import kept_bodies

HOUR_S = 3600
#: Monday 2031-05-05 00:00 UTC.
T0 = 1_935_792_000 // HOUR_S * HOUR_S
MILL = Place(41.2345, -96.5432, 361.0)


def forecast(
    temps: list[float],
    *,
    fetched_s: int = T0,
    issued_s: int | None = None,
    start_s: int | None = None,
) -> Forecast:
    """An invented forecast, hourly from when it was fetched unless told."""
    air = np.array(temps)
    start = fetched_s // HOUR_S * HOUR_S if start_s is None else start_s
    columns = {"air_temp_c": air, "dew_point_c": air - 4.0, "cloud_pct": np.full(len(air), 50.0)}
    return Forecast(
        source="metno",
        place=MILL.cut(),
        fetched_s=fetched_s,
        issued_s=issued_s,
        hourly=Outdoor(start, HOUR_S, columns, frozenset({"dew_point_c"})),
        step_h=np.ones(len(air)),
        credit="invented",
        members={"air_temp_c": np.stack([air, air + 1.0])},
        low10={"air_temp_c": air - 2.0},
        high90={"air_temp_c": air + 2.0},
        notes=("a note",),
    )


def put(store: Store, one: Forecast, now_s: int | None = None) -> bool:
    now_s = one.fetched_s if now_s is None else now_s
    return archive.put(store, one, MILL, [Body("complete", b"{}", one.fetched_s)], now_s)


def same(left: Forecast | None, right: Forecast) -> None:
    assert left is not None
    for name in ("source", "place", "fetched_s", "issued_s", "credit", "notes"):
        assert getattr(left, name) == getattr(right, name)
    assert left.hourly.derived == right.hourly.derived
    np.testing.assert_array_equal(left.hourly.time_s, right.hourly.time_s)
    np.testing.assert_array_equal(left.step_h, right.step_h)
    for mine, theirs in (
        (left.hourly.columns, right.hourly.columns),
        (left.members, right.members),
        (left.low10, right.low10),
        (left.high90, right.high90),
    ):
        assert set(mine) == set(theirs)
        for name in mine:
            np.testing.assert_array_equal(mine[name], theirs[name])  # every digit, holes too


def test_comes_back_as_it_was(store: Store) -> None:
    said = forecast([10.1, math.nan, 6.666666666666667], issued_s=T0 - 600)
    assert put(store, said)
    same(archive.latest(store, "metno", MILL), said)


@given(st.lists(st.floats(-90, 60) | st.just(math.nan), min_size=1, max_size=30))
def test_every_number_keeps_its_digits(temps: list[float]) -> None:
    said = forecast(temps)
    same(forecast_json.from_bytes(forecast_json.to_bytes(said)), said)


def test_nothing_yet(store: Store) -> None:
    assert archive.latest(store, "metno", MILL) is None
    assert archive.history(store, "metno", MILL, 0) == []
    past = archive.recent_past(store, "metno", MILL, T0, T0 + 2 * HOUR_S)
    assert len(past) == 3
    assert np.isnan(past.column("air_temp_c")).all()


def test_the_answers_are_kept_beside_it(store: Store) -> None:
    answers = [Body("points", b'{"a": 1}', T0 - 5), Body("grid", "{°}".encode(), T0)]
    archive.put(store, forecast([10.0]), MILL, answers, T0)
    assert kept_bodies(store) == tuple(answers)
    with store.read() as db:
        digests = [row[0] for row in db.execute("SELECT sha256 FROM forecast_body ORDER BY step")]
    # sha256 of {"a": 1}, by sha256sum
    assert digests[0] == "f9d86028c6e0d64e225186f96acb69338b2c59764df79162107f5c4bb34d1310"


def test_the_same_issue_is_kept_once_and_confirmed(store: Store) -> None:
    assert put(store, forecast([10.0, 11.0], issued_s=T0))
    later = forecast([11.0], issued_s=T0, fetched_s=T0 + HOUR_S)  # the first hour cut off
    assert not put(store, later)
    assert len(archive.history(store, "metno", MILL, 0)) == 1
    kept = archive.latest_kept(store, "metno", MILL)
    assert kept is not None
    assert kept.checked_s == T0 + HOUR_S
    assert kept.forecast.fetched_s == T0


def latest(store: Store) -> Forecast:
    found = archive.latest(store, "metno", MILL)
    assert found is not None
    return found


def with_rain(one: Forecast) -> Forecast:
    columns = {**one.hourly.columns, "rain_mm": np.zeros(len(one.hourly))}
    return replace(one, hourly=replace(one.hourly, columns=columns))


def test_a_fuller_answer_of_the_same_issue_takes_over(store: Store) -> None:
    """The raw grid after the hourly periods it stood in for; an hour has passed between."""
    put(store, forecast([10.0, 11.0, 12.0], issued_s=T0))
    grid = with_rain(forecast([11.4, 12.4, 13.4], issued_s=T0, fetched_s=T0 + HOUR_S))
    answers = [Body("grid", b"[1]", T0 + HOUR_S)]
    assert archive.put(store, grid, MILL, answers, T0 + HOUR_S)
    found = latest(store)
    # The hour that is past stays as it was said then.
    assert found.hourly.columns["air_temp_c"].tolist() == [10.0, 11.4, 12.4, 13.4]
    assert found.hourly.columns["dew_point_c"].tolist() == [6.0, 7.4, 8.4, 9.4]
    np.testing.assert_array_equal(found.hourly.column("rain_mm"), [math.nan, 0.0, 0.0, 0.0])
    assert found.members["air_temp_c"].tolist() == [
        [10.0, 11.4, 12.4, 13.4],
        [11, 12.4, 13.4, 14.4],
    ]
    assert found.step_h.tolist() == [1.0] * 4
    assert found.fetched_s == T0 + HOUR_S
    assert [body.kind for body in kept_bodies(store)] == ["grid"]
    assert len(archive.history(store, "metno", MILL, 0)) == 1
    # Said once more it is no news.
    assert not put(store, grid)


def test_hours_observed_since_take_the_place_of_what_was_foretold(store: Store) -> None:
    put(store, forecast([10.0, 11.0, 12.0], issued_s=T0))
    seen = forecast([4.0, 9.0, 12.0], issued_s=T0, fetched_s=T0 + 2 * HOUR_S, start_s=T0)
    columns = {**seen.hourly.columns, "dew_point_c": np.array([3.0, math.nan, 8.0])}
    seen = replace(seen, hourly=replace(seen.hourly, columns=columns))
    assert put(store, seen)
    found = latest(store).hourly.columns
    assert found["air_temp_c"].tolist() == [4.0, 9.0, 12.0]
    assert found["dew_point_c"].tolist() == [3.0, 7.0, 8.0]
    past = archive.recent_past(store, "metno", MILL, T0, T0 + HOUR_S)
    assert past.column("air_temp_c").tolist() == [4.0, 9.0]


def poorer() -> dict[str, Forecast]:
    plain = forecast([10.0, 11.0, 13.0], issued_s=T0, fetched_s=T0 + 60)
    hole = with_rain(forecast([10.0, math.nan, 13.0], issued_s=T0, fetched_s=T0 + 60))
    return {
        "no rain": plain,
        "a nearer end": with_rain(forecast([10.0, 14.0], issued_s=T0, fetched_s=T0 + 60)),
        "a hole": hole,
        "no members": with_rain(replace(plain, members={})),
        "no percentiles": with_rain(replace(plain, low10={})),
    }


@pytest.mark.parametrize("name", poorer())
def test_a_poorer_answer_of_the_same_issue_does_not(store: Store, name: str) -> None:
    said = with_rain(forecast([10.0, 11.0, 12.0], issued_s=T0))
    put(store, said)
    assert not put(store, poorer()[name])
    same(latest(store), said)
    kept = archive.latest_kept(store, "metno", MILL)
    assert kept is not None
    assert kept.checked_s == T0 + 60


def test_a_new_issue_that_says_the_same_is_news(store: Store) -> None:
    """Its age starts anew."""
    put(store, forecast([10.0], issued_s=T0, start_s=T0))
    assert put(store, forecast([10.0], issued_s=T0 + 600, start_s=T0, fetched_s=T0 + 700))
    found = archive.latest(store, "metno", MILL)
    assert found is not None
    assert found.issued_s == T0 + 600


def test_the_same_values_without_an_issue_are_kept_once(store: Store) -> None:
    assert put(store, forecast([10.0], start_s=T0))
    assert not put(store, forecast([10.0], start_s=T0, fetched_s=T0 + 700))
    assert put(store, forecast([10.5], start_s=T0, fetched_s=T0 + 1400))
    assert put(store, forecast([10.0], start_s=T0, fetched_s=T0 + 2100))  # back again: news
    assert len(archive.history(store, "metno", MILL, 0)) == 3


def test_an_old_issue_served_again_does_not_come_first(store: Store) -> None:
    put(store, forecast([9.0], issued_s=T0 - HOUR_S, fetched_s=T0))
    put(store, forecast([10.0], issued_s=T0, fetched_s=T0 + 100))
    put(store, forecast([9.0], issued_s=T0 - HOUR_S, fetched_s=T0 + 900))
    found = archive.latest(store, "metno", MILL)
    assert found is not None
    assert found.issued_s == T0


def test_a_clock_that_was_wrong_does_not_hide_what_came_after(store: Store) -> None:
    put(store, forecast([9.0], fetched_s=T0 + 5 * HOUR_S))
    put(store, forecast([10.0], fetched_s=T0))
    found = archive.latest(store, "metno", MILL)
    assert found is not None
    assert found.fetched_s == T0


def test_a_forecast_is_no_younger_than_when_it_was_fetched() -> None:
    """A stamp in the future must not make it surer than a new one."""
    assert made_s(forecast([10.0], issued_s=T0 + 1800)) == T0
    assert made_s(forecast([10.0], issued_s=T0 - 1800)) == T0 - 1800
    assert made_s(forecast([10.0])) == T0


def test_history_is_in_order_and_from_a_time_on(store: Store) -> None:
    for hour in (2, 0, 1):
        put(store, forecast([float(hour)], fetched_s=T0 + hour * HOUR_S))
    found = archive.history(store, "metno", MILL, T0 + HOUR_S)
    assert [one.fetched_s for one in found] == [T0 + HOUR_S, T0 + 2 * HOUR_S]


def test_history_is_thinned_before_it_is_read(store: Store) -> None:
    for minute in (0, 50, 60, 100, 130):
        put(store, forecast([float(minute)], fetched_s=T0 + minute * 60))
    found = archive.history(store, "metno", MILL, 0, every_s=HOUR_S)
    assert [(one.fetched_s - T0) // 60 for one in found] == [0, 60, 130]


def test_history_has_no_hours_that_were_past(store: Store) -> None:
    """They may be observed: compared with what was observed, they would look like no error."""
    put(store, forecast([9.0, 10.0, 11.0], start_s=T0 - 2 * HOUR_S, fetched_s=T0 + 600))
    (found,) = archive.history(store, "metno", MILL, 0)
    np.testing.assert_array_equal(found.hourly.column("air_temp_c"), [math.nan, math.nan, 11.0])


def test_members_are_read_only_where_wanted_and_kept_of_the_newest(store: Store) -> None:
    for hour in range(3):
        put(store, forecast([float(hour), 5.0], fetched_s=T0 + hour * HOUR_S, issued_s=T0 + hour))
    assert latest(store).members["air_temp_c"].tolist() == [[2.0, 5.0], [3.0, 6.0]]
    assert [one.members for one in archive.history(store, "metno", MILL, 0)] == [{}] * 3
    sizes = [
        len(one.members) for one in archive.history(store, "metno", MILL, 0, with_members=True)
    ]
    assert sizes == [0, 0, 1]
    # An older issue that comes late is not the newest either.
    put(store, forecast([7.0, 5.0], fetched_s=T0 + 4 * HOUR_S, issued_s=T0 - 5))
    sizes = [
        len(one.members) for one in archive.history(store, "metno", MILL, 0, with_members=True)
    ]
    assert sizes == [0, 0, 1, 0]


def test_without_members_all_else_is_the_same() -> None:
    said = replace(forecast([1.5, math.nan]), notes=('a note with "members":{"a":[1]} in it',))
    data = forecast_json.to_bytes(said)
    bare = replace(said, members={})
    same(forecast_json.from_bytes(data), said)
    same(forecast_json.from_bytes(data, with_members=False), bare)
    assert forecast_json.without_members(data) == forecast_json.to_bytes(bare)
    assert forecast_json.without_members(forecast_json.to_bytes(bare)) == forecast_json.to_bytes(
        bare
    )


def test_places_are_cut_to_two_decimals_and_kept_apart(store: Store) -> None:
    put(store, forecast([10.0]))
    assert archive.latest(store, "metno", replace(MILL, lat_deg=41.2399)) is not None
    assert archive.latest(store, "metno", replace(MILL, lat_deg=41.2401)) is None
    assert archive.latest(store, "metno", replace(MILL, altitude_m=0.0)) is None
    assert archive.latest(store, "nws", MILL) is None


def test_pruned_to_a_year_but_never_the_last_good_one(store: Store) -> None:
    for day in (0, 1, 200):
        put(store, forecast([float(day)], fetched_s=T0 + day * 86400))
    assert archive.prune(store, T0 + 366 * 86400) == 1  # day 0 is 366 days old, day 1 is 365
    assert [one.fetched_s for one in archive.history(store, "metno", MILL, 0)] == [
        T0 + 86400,
        T0 + 200 * 86400,
    ]
    assert archive.prune(store, T0 + 20 * 365 * 86400) == 1
    found = archive.latest(store, "metno", MILL)
    assert found is not None
    assert found.fetched_s == T0 + 200 * 86400
    with store.read() as db:
        assert db.execute("SELECT count(*) FROM forecast_body").fetchone() == (1,)


def test_the_past_is_stitched_from_short_leads(store: Store) -> None:
    put(store, forecast([10.0, 11.0, 12.0, 13.0, 14.0, 15.0]))
    past = archive.recent_past(store, "metno", MILL, T0, T0 + 5 * HOUR_S)
    expected = [10.0, 11.0, 12.0, 13.0, math.nan, math.nan]  # three hours ahead and no more
    np.testing.assert_array_equal(past.column("air_temp_c"), expected)
    put(store, forecast([22.0, 23.0, 24.0], fetched_s=T0 + 2 * HOUR_S))
    past = archive.recent_past(store, "metno", MILL, T0, T0 + 5 * HOUR_S)
    expected = [10.0, 11.0, 22.0, 23.0, 24.0, math.nan]  # the last one said
    np.testing.assert_array_equal(past.column("air_temp_c"), expected)
    np.testing.assert_array_equal(past.column("dew_point_c"), np.array(expected) - 4.0)
    assert past.derived == {"dew_point_c"}
    assert "rain_mm" not in past.columns


def test_the_past_needs_no_forecast_between_two_that_meet(store: Store) -> None:
    """Fetched at 0:00, 0:20, 0:40, 1:00 and, after a break, at 6:00."""
    for minute in (0, 20, 40, 60, 360):
        put(store, forecast([float(minute)] * 10, fetched_s=T0 + minute * 60))
    past = archive.recent_past(store, "metno", MILL, T0, T0 + 8 * HOUR_S, every_s=HOUR_S)
    expected = [0.0, 60.0, 60.0, 60.0, 60.0, math.nan, 360.0, 360.0, 360.0]
    np.testing.assert_array_equal(past.column("air_temp_c"), expected)


def test_the_past_a_source_gives_itself_counts(store: Store) -> None:
    """Observed hours in an answer fetched later replace what was forecast for them."""
    put(store, forecast([10.0, 11.0]))
    seen = forecast([9.0, 9.5, math.nan], fetched_s=T0 + 30 * HOUR_S, start_s=T0)
    put(store, seen)
    past = archive.recent_past(store, "metno", MILL, T0, T0 + 2 * HOUR_S)
    np.testing.assert_array_equal(past.column("air_temp_c"), [9.0, 9.5, math.nan])


def test_a_confirmed_forecast_reaches_further(store: Store) -> None:
    said = forecast([10.0, 11.0, 12.0, 13.0, 14.0], issued_s=T0)
    put(store, said)
    put(store, said, T0 + HOUR_S)
    past = archive.recent_past(store, "metno", MILL, T0, T0 + 4 * HOUR_S)
    assert past.column("air_temp_c")[4] == 14.0


def test_the_past_begins_and_ends_inside_the_span(store: Store) -> None:
    put(store, forecast([10.0, 11.0, 12.0]))
    past = archive.recent_past(store, "metno", MILL, T0 + 1, T0 + 2 * HOUR_S - 1)
    assert past.start_s == T0 + HOUR_S
    np.testing.assert_array_equal(past.column("air_temp_c"), [11.0])
    assert len(archive.recent_past(store, "metno", MILL, T0 + 1, T0 + 2)) == 0


@pytest.mark.parametrize("field", ["columns", "low10"])
def test_infinity_is_a_hole(field: str) -> None:
    """JSON has no infinity, and weather has none either."""
    said = forecast([math.inf, 1.0])
    back = forecast_json.from_bytes(forecast_json.to_bytes(said))
    found = back.hourly.columns if field == "columns" else back.low10
    assert math.isnan(found["air_temp_c"][0])


def test_the_newest_is_found_without_reading_the_year(store: Store) -> None:
    with store.read() as db:
        plan = db.execute(
            "EXPLAIN QUERY PLAN SELECT id, parsed_gzip FROM forecast WHERE source = 'a' AND "
            "lat_deg = 1 AND lon_deg = 2 AND altitude_m = 3 ORDER BY issued_s DESC, id DESC LIMIT 1"
        ).fetchall()
    assert "forecast_by_place" in plan[0][3]
    assert len(plan) == 1  # no sorting step
