"""What the shed was said to do each night against what it did."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.work.scorecard import Log, Said, scorecard

LONDON, AUCKLAND = ZoneInfo("Europe/London"), ZoneInfo("Pacific/Auckland")


def at(zone: ZoneInfo, day: int, hour: int, minute: int = 0, month: int = 6) -> int:
    return int(datetime(2026, month, day, hour, minute, tzinfo=zone).timestamp())


def night(zone: ZoneInfo, day: int, dawn_c: float, step_s: int = 900, month: int = 6) -> Log:
    """A log from 12:00 to 12:00 that is 20 °C but for its dawn at 05:00."""
    times = np.arange(
        at(zone, day, 12, month=month), at(zone, day + 1, 12, month=month) + 1, step_s
    )
    hours = np.abs(times - at(zone, day + 1, 5, month=month)) / 3600.0
    return Log(times, dawn_c + (20.0 - dawn_c) * np.minimum(1.0, hours / 6.0))


def said(zone: ZoneInfo, day: int, dawn_c: float, hour: int = 16, month: int = 6) -> Said:
    course = night(zone, day, dawn_c, 3600, month)
    return Said(at(zone, day, hour, month=month), course.time_s, course.value_c)


def joined(*logs: Log) -> Log:
    times = np.concatenate([log.time_s for log in logs])
    keep = np.unique(times, return_index=True)[1]
    return Log(times[keep], np.concatenate([log.value_c for log in logs])[keep])


LATER = at(LONDON, 20, 12)


@pytest.mark.parametrize("zone", [LONDON, AUCKLAND])
def test_one_night_in_words(zone: ZoneInfo) -> None:
    found = scorecard([said(zone, 3, 14.1)], night(zone, 3, 13.6), zone, at(zone, 20, 12))
    assert [n.text for n in found.nights] == ["said 14.1 °C at dawn, your shed did 13.6 °C"]
    assert found.nights[0].dawn_s == at(zone, 4, 5)
    assert found.mean_error_k == pytest.approx(0.5)
    assert found.mean_abs_error_k == pytest.approx(0.5)
    assert found.left_out == ()
    assert found.text == "1 night: 0.5 K off, 0.5 K too warm on average"


def test_errors_of_either_sign_do_not_hide_each_other() -> None:
    log = joined(night(LONDON, 3, 13.0), night(LONDON, 4, 13.0))
    found = scorecard([said(LONDON, 3, 14.0), said(LONDON, 4, 12.0)], log, LONDON, LATER)
    assert [n.said_c - n.was_c for n in found.nights] == pytest.approx([1.0, -1.0])
    assert found.mean_error_k == pytest.approx(0.0)
    assert found.mean_abs_error_k == pytest.approx(1.0)
    assert found.text == "2 nights: 1.0 K off, no lean either way"


def test_only_what_was_said_by_six_in_the_evening_counts() -> None:
    courses = [said(LONDON, 3, 10.0, hour=8), said(LONDON, 3, 14.0, hour=18),
               said(LONDON, 3, 12.9, hour=19)]  # fmt: skip
    found = scorecard(courses, night(LONDON, 3, 13.0), LONDON, LATER)
    assert [n.said_c for n in found.nights] == pytest.approx([14.0])


def test_what_was_said_the_day_before_is_too_old() -> None:
    old = said(LONDON, 3, 14.0)
    early = Said(at(LONDON, 2, 17), old.time_s, old.value_c)
    found = scorecard([early], night(LONDON, 3, 13.0), LONDON, LATER)
    assert found.nights == ()
    assert found.left_out == ("night of 2026-06-03: nothing was said in the day before",)
    assert np.isnan(found.mean_error_k)


def test_a_gap_in_the_log_may_hide_the_coldest_hour() -> None:
    log = night(LONDON, 3, 13.0)
    values = log.value_c.copy()
    values[(log.time_s > at(LONDON, 4, 3)) & (log.time_s < at(LONDON, 4, 6))] = np.nan
    found = scorecard([said(LONDON, 3, 14.0)], Log(log.time_s, values), LONDON, LATER)
    assert found.nights == ()
    assert found.left_out == ("night of 2026-06-03: the log has a gap",)


def test_a_forecast_that_ends_at_midnight_is_no_answer_for_dawn() -> None:
    whole = said(LONDON, 3, 14.0)
    keep = whole.time_s <= at(LONDON, 4, 0)
    short = Said(whole.issued_s, whole.time_s[keep], whole.value_c[keep])
    found = scorecard([short, said(LONDON, 5, 14.0)], night(LONDON, 3, 13.0), LONDON, LATER)
    assert found.left_out == ("night of 2026-06-03: what was said does not last the night",)


def test_the_night_that_is_not_over_waits() -> None:
    courses, log = [said(LONDON, 3, 14.1)], night(LONDON, 3, 13.6)
    assert scorecard(courses, log, LONDON, at(LONDON, 4, 9, 59)).nights == ()
    assert len(scorecard(courses, log, LONDON, at(LONDON, 4, 10)).nights) == 1


def test_a_log_by_the_hour_is_enough() -> None:
    hourly = night(LONDON, 3, 13.6, step_s=3600)
    assert len(scorecard([said(LONDON, 3, 14.1)], hourly, LONDON, LATER).nights) == 1


def test_the_night_the_clocks_change() -> None:
    # 29 March 2026, 01:00 UTC: 18:00 to 10:00 is fifteen hours.
    found = scorecard(
        [said(LONDON, 28, 6.0, month=3)], night(LONDON, 28, 5.0, month=3), LONDON, LATER
    )
    assert [(n.said_c, n.was_c) for n in found.nights] == [(pytest.approx(6.0), pytest.approx(5.0))]


def test_american_units_and_another_thing_measured() -> None:
    log = night(LONDON, 3, 10.0)
    keel = Log(log.time_s, log.value_c, "the keel")
    found = scorecard([said(LONDON, 3, 15.0)], keel, LONDON, LATER, "us")
    assert found.nights[0].text == "said 59.0 °F at dawn, the keel did 50.0 °F"


def test_without_a_log_or_an_archive_there_is_no_score() -> None:
    nothing = Log(np.array([], dtype=np.int64), np.array([]))
    for courses, log in (([], night(LONDON, 3, 13.0)), ([said(LONDON, 3, 14.0)], nothing)):
        found = scorecard(courses, log, LONDON, LATER)
        assert found.nights == ()
        assert found.text.startswith("No night to score yet")
