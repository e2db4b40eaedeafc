"""Working hours: what is read, what is refused, and the local clock on the UTC grid."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.planning.hours import parse_hours
from tests.helpers.products import MONDAY_S, steady

UTC = ZoneInfo("UTC")
LONDON = ZoneInfo("Europe/London")
DAY = ((8 * 60, 18 * 60),)
OFF: tuple[tuple[int, int], ...] = ()
MORNING, AFTERNOON = (480, 720), (780, 1020)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("08:00-18:00", (DAY,) * 7),
        ("8:00-18:00", (DAY,) * 7),
        ("mon-fri 08:00-18:00", (DAY,) * 5 + (OFF, OFF)),
        ("sat 08:00-18:00", (OFF,) * 5 + (DAY, OFF)),
        ("Sat-Mon 08:00-18:00", (DAY,) + (OFF,) * 4 + (DAY, DAY)),
        ("sun-sun 08:00-18:00", (OFF,) * 6 + (DAY,)),
        ("mon 00:00-24:00", (((0, 1440),),) + (OFF,) * 6),
        (
            "mon-fri 17:00-21:00, sat 08:00-18:00",
            (((1020, 1260),),) * 5 + (DAY, OFF),
        ),
        ("  tue   08:00-18:00 ", (OFF, DAY) + (OFF,) * 5),
        (
            "mon-fri 08:00-12:00, mon-fri 13:00-17:00",
            ((MORNING, AFTERNOON),) * 5 + (OFF, OFF),
        ),
        ("08:00-12:00, 13:00-17:00", ((MORNING, AFTERNOON),) * 7),
        ("sat 13:00-17:00, sat 08:00-12:00", (OFF,) * 5 + ((MORNING, AFTERNOON), OFF)),
        # A named day has its own hours, not the usual ones besides.
        ("08:00-18:00, sat 08:00-12:00", (DAY,) * 5 + ((MORNING,), DAY)),
    ],
)
def test_what_is_read(text: str, days: tuple[tuple[tuple[int, int], ...], ...]) -> None:
    found = parse_hours(text)
    assert found.days == days
    assert found.text == text


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "''"),
        ("8-18", "'8-18'"),
        ("always", "'always'"),
        ("08:00-18:00,", "''"),
        ("08:00 - 18:00", "'08:00 - 18:00'"),
        ("25:00-26:00", "'25:00'"),
        ("08:00-24:01", "'24:01'"),
        ("08:60-18:00", "'08:60'"),
        ("18:00-08:00", "an end after the start"),
        ("08:00-08:00", "an end after the start"),
        ("lun-ven 08:00-18:00", "'lun'"),
        ("mon-xyz 08:00-18:00", "'xyz'"),
        ("mon-fri 08:00-18:00, sat", "'sat'"),
        ("mon 08:00-18:00 tue", "'mon 08:00-18:00 tue'"),
    ],
)
def test_what_is_refused_names_the_part(text: str, told: str) -> None:
    with pytest.raises(RangeError) as caught:
        parse_hours(text)
    message = str(caught.value)
    assert told in message
    assert message.startswith("working hours: found ")
    assert "\n" not in message


def test_the_mask_keeps_both_ends() -> None:
    series = steady(24)
    mask = parse_hours("08:00-18:00").mask(series, UTC)
    inside = np.flatnonzero(mask)
    assert (inside[0], inside[-1]) == (8 * 12, 18 * 12)
    assert mask.sum() == 10 * 12 + 1


def test_the_mask_of_hours_off_the_grid_lies_inside_them() -> None:
    mask = parse_hours("08:01-09:04").mask(steady(24), UTC)
    inside = np.flatnonzero(mask)
    assert (inside[0], inside[-1]) == (8 * 12 + 1, 9 * 12)


def test_the_mask_leaves_the_midday_break_out() -> None:
    mask = parse_hours("mon-fri 08:00-12:00, mon-fri 13:00-17:00").mask(steady(24), UTC)
    inside = np.zeros(24 * 12 + 1, dtype=bool)
    inside[8 * 12 : 12 * 12 + 1] = True
    inside[13 * 12 : 17 * 12 + 1] = True
    assert mask.tolist() == inside.tolist()


def test_spans_that_overlap_count_as_one() -> None:
    mask = parse_hours("mon 08:00-13:00, mon 12:00-17:00").mask(steady(24), UTC)
    assert mask.tolist() == parse_hours("mon 08:00-17:00").mask(steady(24), UTC).tolist()


def test_a_day_off_stays_empty() -> None:
    mask = parse_hours("tue 08:00-18:00").mask(steady(48), UTC)  # from Monday 00:00
    assert not mask[:288].any()
    assert mask[288:].sum() == 121


def test_the_local_day_counts_not_the_utc_day() -> None:
    # Auckland is 12 h ahead in June: Monday 08:00 there is Sunday 20:00 UTC.
    series = steady(48, start_s=MONDAY_S - 86400)
    mask = parse_hours("mon 08:00-18:00").mask(series, ZoneInfo("Pacific/Auckland"))
    inside = np.flatnonzero(mask)
    assert (inside[0], inside[-1]) == (20 * 12, 30 * 12)


def test_a_working_day_that_began_before_the_series() -> None:
    series = steady(24, start_s=MONDAY_S + 12 * 3600)
    mask = parse_hours("08:00-18:00").mask(series, UTC)
    assert mask[: 6 * 12 + 1].all()
    assert not mask[6 * 12 + 1 : 20 * 12].any()


def test_midnight_to_midnight_is_always() -> None:
    assert parse_hours("00:00-24:00").mask(steady(72), UTC).all()


def test_an_empty_series_has_an_empty_mask() -> None:
    assert parse_hours("00:00-24:00").mask(steady(1).part(0, 0), UTC).tolist() == []


@pytest.mark.parametrize(
    ("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25), ("2026-06-01", 24)]
)
def test_a_clock_change_makes_a_whole_day_shorter_or_longer(day: str, hours: int) -> None:
    midnight = datetime.fromisoformat(day).replace(tzinfo=LONDON)
    before = int((midnight - timedelta(hours=6)).timestamp())
    series = steady(48, start_s=before)
    name = midnight.strftime("%a").lower()
    mask = parse_hours(f"{name} 00:00-24:00").mask(series, LONDON)
    assert mask.sum() == hours * 12 + 1


@pytest.mark.parametrize(("day", "utc_hour"), [("2026-03-28", 8), ("2026-03-29", 7)])
def test_the_working_day_moves_with_the_local_clock(day: str, utc_hour: int) -> None:
    start = int(datetime.fromisoformat(day).replace(tzinfo=UTC).timestamp())
    mask = parse_hours("08:00-18:00").mask(steady(24, start_s=start), LONDON)
    inside = np.flatnonzero(mask)
    assert (inside[0], inside[-1]) == (utc_hour * 12, (utc_hour + 10) * 12)
