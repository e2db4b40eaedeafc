"""When a service may be asked again: numbers in, numbers out."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.climate.sources import backoff
from advisor.climate.sources.backoff import Failure, State

NOW_S = int(datetime(2031, 5, 4, 14, 20, tzinfo=UTC).timestamp())
DATE = "Sun, 04 May 2031 14:20:00 GMT"


def failure(status: int | None, said: str = "", **headers: str) -> Failure:
    return Failure(status, "a reason", {k.replace("_", "-"): v for k, v in headers.items()}, said)


def wait_s(status: int | None, said: str = "", failures: int = 0, **headers: str) -> int:
    before = State(failures=failures)
    after = backoff.after_failure(before, failure(status, said, **headers), NOW_S, 0, "mine")
    assert after.failures == failures + 1
    return after.next_allowed_s - NOW_S


@pytest.mark.parametrize("status", [None, 200, 301, 500, 502, 503, 504, 511])
def test_one_two_five_fifteen_sixty_minutes(status: int | None) -> None:
    assert [wait_s(status, failures=n) for n in range(6)] == [60, 120, 300, 900, 3600, 3600]


def test_too_many_without_a_word_doubles_from_a_quarter_of_an_hour_to_a_day() -> None:
    waits = [wait_s(429, failures=n) for n in (0, 1, 2, 3, 6, 7, 100)]
    assert waits == [900, 1800, 3600, 7200, 57600, 86400, 86400]


@pytest.mark.parametrize(
    ("said", "expected"),
    [
        ("Minutely API request limit exceeded. Please try again in one minute.", 60),
        ("Hourly API request limit exceeded. Please try again in the next hour.", 2400),
        ("Daily API request limit exceeded. Please try again tomorrow.", 34800),
        ("Too many concurrent requests", 900),
    ],
)
def test_too_many_with_a_reason_waits_for_the_sweep_of_the_counter(
    said: str, expected: int
) -> None:
    """14:20:00 UTC: 40 min to the full hour, 9 h 40 min to midnight."""
    assert wait_s(429, said) == expected


@pytest.mark.parametrize(
    ("told", "expected"),
    [("1800", 1800), ("0", 60), ("999999999999", 86400), ("Sun, 04 May 2031 14:50:00 GMT", 1800)],
)
def test_retry_after_comes_first_and_is_capped(told: str, expected: int) -> None:
    assert wait_s(429, "Daily", retry_after=told) == expected
    assert wait_s(429, "Daily", retry_after=told, date=DATE) == expected


def test_retry_after_as_a_date_is_measured_by_the_services_clock() -> None:
    hours_off = "Sun, 04 May 2031 09:00:00 GMT"
    assert wait_s(429, retry_after="Sun, 04 May 2031 09:30:00 GMT", date=hours_off) == 1800


@pytest.mark.parametrize(
    ("told", "expected"),
    [
        ("3600", 3600),
        ("1", 60),
        ("999999999999", 86400),
        ("Sun, 04 May 2031 14:50:00 GMT", 1800),
        ("soon", 60),
    ],
)
def test_a_service_that_is_down_says_for_how_long(told: str, expected: int) -> None:
    assert wait_s(503, retry_after=told) == expected
    assert wait_s(503, failures=9, retry_after=told) == max(expected, 3600)
    assert wait_s(500, retry_after=told) == 60  # says nothing there (RFC 9110, 10.2.3)


@pytest.mark.parametrize("status", [401, 403])
def test_refused_stops_until_the_settings_change(status: int) -> None:
    after = backoff.after_failure(State(), failure(status), NOW_S, 0, "mine")
    assert not backoff.may_ask(after, NOW_S + 10**9, "mine")
    assert backoff.may_ask(after, NOW_S + 1, "other")


def test_a_later_fault_of_another_kind_is_no_stop() -> None:
    stopped = backoff.after_failure(State(), failure(403), NOW_S, 0, "mine")
    again = backoff.after_failure(stopped, failure(503), NOW_S, 0, "other")
    assert again.stopped_for == ""


@pytest.mark.parametrize("status", [400, 404, 410, 422])
def test_a_place_or_question_waits_alone(status: int) -> None:
    assert backoff.scope(failure(status)) == backoff.QUESTION
    assert wait_s(status) == 6 * 3600


@pytest.mark.parametrize("status", [None, 200, 403, 429, 500])
def test_all_else_bars_the_source(status: int | None) -> None:
    assert backoff.scope(failure(status)) == backoff.SOURCE


@pytest.mark.parametrize(
    ("headers", "life_s"),
    [
        ({"cache-control": "public, max-age=749, s-maxage=3600", "expires": DATE}, 749),
        ({"cache-control": "public, max-age=749", "age": "700"}, 49),
        ({"cache-control": 'Max-Age="60"'}, 60),
        ({"cache-control": "max-age=-5"}, 3600),
        ({"cache-control": "no-cache"}, 3600),
        ({"expires": "Sun, 04 May 2031 14:43:10 GMT", "date": DATE}, 1390),
        ({"expires": "Sun, 04 May 2031 14:43:10 GMT"}, 1390),
        (
            {"expires": "Sun, 04 May 2031 09:23:10 GMT", "date": "Sun, 04 May 2031 09:00:00 GMT"},
            1390,
        ),
        ({"expires": "Sun, 04 May 2031 13:00:00 GMT", "date": DATE}, 0),
        ({"expires": "0"}, 0),
        ({"expires": "Sun, 04 May 2041 13:00:00 GMT", "date": DATE}, 86400),
        ({}, 3600),
    ],
)
def test_until_when_an_answer_is_fresh(headers: dict[str, str], life_s: int) -> None:
    assert backoff.expires_s(headers, NOW_S) == NOW_S + life_s


def test_the_clock_is_compared_with_the_services() -> None:
    assert backoff.skew_s({}, NOW_S) is None
    assert backoff.skew_s({"date": DATE}, NOW_S + 7200) == 7200
    assert backoff.skew_s({"date": DATE, "age": "600"}, NOW_S + 600) == 0  # a cache on the way
    assert backoff.clock_warning(900) == ""
    assert backoff.clock_warning(None) == ""
    assert "16 min ahead of" in backoff.clock_warning(960)
    assert "5 h behind" in backoff.clock_warning(-18000)
    assert "365 days" in backoff.clock_warning(365 * 86400)


def test_success_waits_for_expiry_but_never_under_ten_minutes() -> None:
    soon = backoff.after_success(200, NOW_S + 5, NOW_S, 100)
    assert soon.next_allowed_s == NOW_S + 700
    late = backoff.after_success(200, NOW_S + 5000, NOW_S, 100)
    assert late.next_allowed_s == NOW_S + 5100
    assert late.failures == 0


def test_a_time_further_off_than_any_wait_does_not_bind() -> None:
    """It was written by a clock that was ahead."""
    assert not backoff.may_ask(State(next_allowed_s=NOW_S + 86400), NOW_S, "")
    assert backoff.may_ask(State(next_allowed_s=NOW_S + 2 * 86400), NOW_S, "")


def test_jitter_is_spread_over_seven_minutes_and_repeats() -> None:
    found = [backoff.jitter_s(f"shop {n}") for n in range(2000)]
    assert backoff.jitter_s("shop 7") == found[7]
    assert min(found) >= 0
    assert max(found) <= 420
    # Uniform on 0..420: mean 210, standard error 121.5 / sqrt(2000) = 2.7; four of them
    assert abs(sum(found) / len(found) - 210) < 11


@given(
    status=st.sampled_from([None, 200, 301, 400, 401, 403, 404, 418, 422, 429, 499, 500, 503]),
    failures=st.integers(0, 10**6),
    jitter=st.integers(0, 420),
    headers=st.dictionaries(
        st.sampled_from(["retry-after", "date", "expires", "age", "cache-control"]), st.text()
    ),
    said=st.text(),
)
def test_every_wait_is_between_a_minute_and_a_day(
    status: int | None, failures: int, jitter: int, headers: dict[str, str], said: str
) -> None:
    before = State(failures=failures)
    after = backoff.after_failure(before, Failure(status, "", headers, said), NOW_S, jitter, "me")
    assert 60 <= after.next_allowed_s - NOW_S <= 86400 + 420
    assert NOW_S <= backoff.expires_s(headers, NOW_S) <= NOW_S + 86400
    backoff.skew_s(headers, NOW_S)
