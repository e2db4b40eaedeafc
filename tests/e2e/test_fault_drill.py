"""Everything a weather service or a network can do wrong, against a server on this computer.

Each time: the last good forecast stays and can be read, the reason is told, the back-off is
obeyed (counted at the server), and no thread is left behind.
"""

from __future__ import annotations

import json
import os
import socket
import sqlite3
import stat
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.base.errors import InputError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.climate.place import Place
from advisor.climate.sources import archive
from advisor.climate.sources.all_sources import by_id
from advisor.climate.sources.client import Client
from advisor.climate.sources.refresh import Outcome, refresh
from advisor.climate.sources.wire import Limits
from tests.helpers.forecast_answers import kept_bodies
from tests.helpers.loopback import (
    Reply,
    Rerouted,
    Seen,
    Service,
    only_this_computer,
    service,
)

DATA = Path(__file__).parents[1] / "data" / "forecasts"
#: When the stored answers were "sent": their Date header.
NOW_S = int(datetime(2031, 5, 4, 14, 20, tzinfo=UTC).timestamp())
MILL = Place(41.2345, -96.5432, 361.0)
#: Short, so that nothing waits; a loaded machine needs no more than these to answer a loopback.
SHORT = Limits(connect_s=2.0, read_s=0.3, guard_s=1.0, most_bytes=2_000_000, pause_s=0.0)
STORED = json.loads((DATA / "http_headers.json").read_text(encoding="utf-8"))
MET = "/weatherapi/locationforecast/2.0/complete"


def stored(name: str, file: str | None = None) -> Reply:
    """A stored answer with the status and headers stored for it."""
    meta = STORED.get(name, {"status": 200, "headers": {"Content-Type": "application/json"}})
    path = DATA / (file or name)
    body = path.read_bytes() if path.is_file() else b""
    return Reply(meta["status"], meta["headers"], body)


GOOD = stored("metno_complete_percentiles.json")


@pytest.fixture(autouse=True)
def _no_network(monkeypatch: pytest.MonkeyPatch) -> None:
    only_this_computer(monkeypatch, AssertionError("a test asked for the network"))


@pytest.fixture
def there() -> Iterator[Service]:
    with service() as running:
        running.answer(MET, GOOD)
        yield running


@dataclass
class Drill:
    """A shop that asks a service."""

    store: Store
    there: Service
    client: Client
    source_id: str = "metno"
    contact: str = "crew@example.org"

    def ask(self, now_s: int = NOW_S, place: Place = MILL) -> Outcome:
        source = Rerouted(by_id(self.source_id), self.there.base)
        return refresh(self.store, source, place, now_s, contact=self.contact, session=self.client)

    @property
    def count(self) -> int:
        return len(self.there.seen)


@pytest.fixture
def drill(store: Store, there: Service, tmp_path: Path) -> Iterator[Drill]:
    """Afterwards no thread may be left, though the service still holds its connections."""
    Settings(store).set("fetch_forecasts", True)
    yield Drill(store, there, Client(tmp_path / "http.sqlite", limits=SHORT, own_machine=True))
    for thread in threading.enumerate():
        if thread.name == "forecast GET":
            thread.join(8)  # less than the program's own 20 s of silence, more than any load
            assert not thread.is_alive()


def later(outcome: Outcome, extra_s: int = 0) -> int:
    assert outcome.next_allowed_s is not None
    return outcome.next_allowed_s + extra_s


# --- what a good day looks like ---------------------------------------------------------------


def test_a_good_answer_is_kept_and_not_asked_for_again_before_it_expires(drill: Drill) -> None:
    first = drill.ask()
    assert (first.kind, first.reason, first.warnings) == ("fetched", "", ())
    assert first.forecast is not None
    assert first.forecast.fetched_s == NOW_S
    # Expires is 14:43:10; then up to seven minutes of spread.
    expires_s = NOW_S + 23 * 60 + 10
    assert expires_s <= later(first) <= expires_s + 420
    again = drill.ask(later(first, -1))
    assert again.kind == "not due"
    assert again.forecast is not None
    assert drill.count == 1


def test_what_is_sent(drill: Drill) -> None:
    drill.ask()
    seen = drill.there.seen[0]
    assert seen.headers["user-agent"].startswith("painting-window-advisor/")
    assert seen.headers["user-agent"].endswith("(crew@example.org)")
    assert seen.headers["accept"] == "application/json"
    assert "cache-control" not in seen.headers
    assert "lat=41.23&" in seen.path  # cut, not rounded, to two decimals


def test_without_a_contact_the_program_still_names_itself(drill: Drill) -> None:
    drill.contact = ""
    drill.ask()
    agent = drill.there.seen[0].headers["user-agent"]
    assert agent.startswith("painting-window-advisor/")
    assert "no contact" in agent


def test_a_contact_that_would_add_a_header_is_refused(drill: Drill) -> None:
    drill.contact = "crew@example.org\r\nX-Other: 1"
    with pytest.raises(InputError, match="one line"):
        drill.ask()
    assert drill.count == 0


def test_nothing_is_asked_until_the_user_says_so(drill: Drill) -> None:
    Settings(drill.store).reset("fetch_forecasts")
    assert drill.ask().kind == "off"
    assert drill.count == 0


def test_terms_come_before_the_first_question(drill: Drill) -> None:
    drill.source_id = "openmeteo"
    drill.there.answer("/v1/forecast", stored("openmeteo_forecast_gmt.json"))
    drill.there.answer("/v1/ensemble", stored("openmeteo_ensemble.json"))
    assert drill.ask().kind == "off"
    assert drill.count == 0
    Settings(drill.store).set("openmeteo_agreed", True)
    assert drill.ask().kind == "fetched"
    assert drill.count == 2


def test_an_own_server_has_no_terms_but_only_when_it_is_the_one_asked(drill: Drill) -> None:
    drill.source_id = "openmeteo"
    drill.there.answer("/v1/forecast", stored("openmeteo_forecast_gmt.json"))
    Settings(drill.store).set("openmeteo_server", "https://weather.example.org")
    assert drill.ask().kind == "off"
    assert drill.count == 0


def test_bright_sky(drill: Drill) -> None:
    drill.source_id = "brightsky"
    drill.there.answer("/weather", stored("brightsky_weather.json"))
    outcome = drill.ask()
    assert outcome.kind == "fetched", outcome.reason


def nws(there: Service) -> None:
    there.answer("/points/", stored("nws_points.json"))
    there.answer("/gridpoints/", stored("nws_gridpoint.json"))
    there.answer("/stations/", stored("nws_observations.json"))


def test_the_us_service_step_by_step(drill: Drill) -> None:
    drill.source_id = "nws"
    nws(drill.there)
    outcome = drill.ask()
    assert outcome.kind == "fetched", outcome.reason
    kinds = [body.kind for body in kept_bodies(drill.store)]
    assert kinds[:2] == ["points", "grid"]
    # The grid is asked again when it expires, the point not before its own 20 000 s are over.
    before = [seen.path for seen in drill.there.seen]
    assert drill.ask(later(outcome)).kind == "unchanged"
    after = [seen.path for seen in drill.there.seen[len(before) :]]
    assert any(path.startswith("/gridpoints/") for path in after)
    assert not any(path.startswith("/points/") for path in after)


def test_the_answers_parse_again_to_what_was_kept(drill: Drill) -> None:
    outcome = drill.ask()
    (body,) = kept_bodies(drill.store)
    again = by_id("metno").parse(body.kind, body.body, MILL, body.fetched_s, None)
    assert outcome.forecast is not None
    air = outcome.forecast.hourly.column("air_temp_c")
    assert again.hourly.column("air_temp_c").tobytes() == air.tobytes()  # type: ignore[union-attr]


# --- not modified -----------------------------------------------------------------------------


def answers_304(seen: Seen) -> Reply:
    return stored("metno_304") if "if-modified-since" in seen.headers else GOOD


def test_not_modified_confirms_what_is_kept(drill: Drill) -> None:
    first = drill.ask()
    drill.there.answer(MET, answers_304)
    at_s = later(first)
    second = drill.ask(at_s)
    assert second.kind == "unchanged"
    assert drill.there.seen[1].headers["if-modified-since"] == GOOD.headers["Last-Modified"]
    assert second.checked_s == at_s
    # The stored 304 has Date 14:44:00 and Expires 15:14:02.
    assert at_s + 1802 <= later(second) <= at_s + 1802 + 420
    assert drill.ask(later(second, -1)).kind == "not due"
    assert drill.count == 2


def test_a_last_modified_in_the_future_is_echoed_verbatim(drill: Drill) -> None:
    future = "Sun,  4 May 2031 23:59:59 GMT"  # odd spacing too
    drill.there.answer(MET, GOOD.but(Last_Modified=future))
    first = drill.ask()
    drill.there.answer(MET, answers_304)
    assert drill.ask(later(first)).kind == "unchanged"
    assert drill.there.seen[1].headers["if-modified-since"] == future


def test_an_etag_is_sent_back(drill: Drill) -> None:
    drill.there.answer(MET, GOOD.but(ETag='"a1"', Last_Modified=None))
    first = drill.ask()
    drill.ask(later(first))
    assert drill.there.seen[1].headers["if-none-match"] == '"a1"'


def test_without_validators_the_answer_is_fetched_anew(drill: Drill) -> None:
    """The cache would hold it good by the machine's clock; ours decides."""
    drill.there.answer(MET, GOOD.but(Last_Modified=None, Expires=None))
    first = drill.ask()
    assert NOW_S + 3600 <= later(first) <= NOW_S + 3600 + 420
    drill.ask(later(first))
    assert drill.count == 2


def test_a_new_issue_replaces_the_old(drill: Drill) -> None:
    first = drill.ask()
    drill.there.answer(MET, stored("metno_complete_percentiles.json", "metno_complete_global.json"))
    newer = json.loads((DATA / "metno_complete_global.json").read_text(encoding="utf-8"))
    newer["properties"]["meta"]["updated_at"] = "2031-05-04T14:31:00Z"
    drill.there.answer(MET, replace(GOOD, body=json.dumps(newer).encode()))
    second = drill.ask(later(first))
    assert second.kind == "fetched"
    assert second.forecast is not None
    assert first.forecast is not None
    assert second.forecast.issued_s != first.forecast.issued_s
    assert len(archive.history(drill.store, "metno", MILL, 0)) == 2


# --- faults -----------------------------------------------------------------------------------

HTML = {"Content-Type": "text/html"}
PORTAL = Reply(200, HTML, b"<html><body>Sign in to use this network</body></html>")
BODIES = {
    "empty": b"",
    "half a body": GOOD.body[: len(GOOD.body) // 2],
    "an empty object": b"{}",
    "a list": b"[]",
    "not text": b"\xff\xfe\x00" * 40,
    "nested beyond reason": b"[" * 100_000,
    "a page that calls itself JSON": PORTAL.body,
    "a stamp of the far future": GOOD.body.replace(
        b"2031-05-04T13:49:00Z", b"2099-01-01T00:00:00Z"
    ),
    "a number that is none": GOOD.body.replace(
        b'"air_temperature": ', b'"air_temperature": 1e999', 3
    ),
}
FAULTS = {
    "captive portal": PORTAL,
    "captive portal with a validator": PORTAL.but(Last_Modified=GOOD.headers["Last-Modified"]),
    "captive portal for ever": PORTAL.but(Cache_Control="public, max-age=31536000, immutable"),
    "403 blocked": stored("metno_403_blocked"),
    "401": Reply(401),
    "429 bare": Reply(429),
    "429 wait": Reply(429, {"Retry-After": "1800"}),
    "429 minute": stored("openmeteo_error_429_minute.json"),
    "429 day": Reply(
        429,
        {"Content-Type": "application/json"},
        (DATA / "openmeteo_error_429_day.json").read_bytes(),
    ),
    "400 reason": Reply(
        400, {"Content-Type": "application/json"}, (DATA / "openmeteo_error_400.json").read_bytes()
    ),
    "404 brightsky": Reply(
        404,
        {"Content-Type": "application/json"},
        (DATA / "brightsky_error_404.json").read_bytes(),
    ),
    "404 point": stored("nws_error_404_invalid_point.json"),
    "404 marine": stored("nws_error_404_invalid_point.json", "nws_error_404_marine.json"),
    "422": Reply(422),
    "499": Reply(499),
    "500": stored("nws_error_500_unexpected.json"),
    "502 html": Reply(502, HTML, b"<html>bad gateway</html>"),
    "503 expired": stored("nws_error_503_grid_expired.json"),
    "503 with a wait": Reply(503, {"Retry-After": "3600"}),
    "504": Reply(504),
    "511 sign in": Reply(511, HTML, PORTAL.body),
    "204": Reply(204),
    "206": replace(GOOD, status=206),
    "304 for nothing": stored("metno_304"),
    "418 no such thing": Reply(299),
    "reset": Reply(fault="reset"),
    "silent": Reply(fault="silent"),
    "silent after headers": replace(GOOD, fault="silent after headers"),
    "slow drip of headers": Reply(fault="drip headers"),
    "slow drip of a 503": Reply(503, {}, b" " * 60_000, fault="drip"),
    "slow drip": replace(GOOD, fault="drip"),
    "slow drip of no told length": replace(GOOD, fault="drip", tells_length=False),
    "cut short of no told length": replace(GOOD, fault="cut short", tells_length=False),
    "cut short": replace(GOOD, fault="cut short"),
    "too long": replace(GOOD, body=b" " * 3_000_000),
    "sent away from https": Reply(301, {"Location": "http://example.org/complete"}),
    "sent in circles": Reply(302, {"Location": MET}),
    "sent nowhere": Reply(301, {"Location": "http://[bad"}),
    "broken gzip": GOOD.but(Content_Encoding="gzip"),
    **{f"200 with {name}": replace(GOOD, body=body) for name, body in BODIES.items()},
}


@pytest.mark.parametrize("name", FAULTS)
def test_the_last_good_forecast_stays(drill: Drill, name: str) -> None:
    good = drill.ask()
    assert good.forecast is not None
    # No validator is remembered, else a bare 304 would be a good answer.
    at_s = later(good)
    drill.there.answer(MET, FAULTS[name])
    if name == "304 for nothing":
        drill.client.forget(Rerouted(by_id("metno"), drill.there.base).requests(MILL, at_s)[0])
    bad = drill.ask(at_s)
    assert bad.kind == "kept"
    assert bad.reason
    assert "\n" not in bad.reason
    assert bad.forecast is not None
    assert bad.forecast.issued_s == good.forecast.issued_s
    found = archive.latest(drill.store, "metno", MILL)
    assert found is not None
    air = found.hourly.column("air_temp_c").tobytes()
    assert air == good.forecast.hourly.column("air_temp_c").tobytes()
    assert len(archive.history(drill.store, "metno", MILL, 0)) == 1

    # The back-off is obeyed: one second before, the server hears nothing.
    count = drill.count
    next_s = bad.next_allowed_s
    assert next_s is None or next_s >= at_s + 60
    too_early = drill.ask((at_s + 86400 if next_s is None else next_s) - 1)
    assert too_early.kind == "kept"
    assert too_early.forecast is not None
    assert drill.count == count
    if next_s is None:
        return
    # And afterwards all is well: nothing bad was remembered that "not modified" would confirm.
    drill.there.answer(MET, answers_304)
    assert drill.ask(next_s).kind == "unchanged"


@pytest.mark.parametrize("name", ["captive portal", "403 blocked", "reset", "503 expired"])
def test_a_fault_before_there_was_any_forecast(drill: Drill, name: str) -> None:
    drill.there.answer(MET, FAULTS[name])
    outcome = drill.ask()
    assert outcome.kind == "kept"
    assert outcome.forecast is None
    assert archive.latest(drill.store, "metno", MILL) is None


def test_waits_grow_and_start_anew_with_a_good_answer(drill: Drill) -> None:
    drill.there.answer(MET, Reply(503))
    at_s, waits = NOW_S, []
    for _ in range(6):
        outcome = drill.ask(at_s)
        waits.append(later(outcome) - at_s)
        at_s = later(outcome)
    # 1, 2, 5, 15, 60, 60 min and a share of at most seven minutes' spread
    for wait, least in zip(waits, (60, 120, 300, 900, 3600, 3600), strict=True):
        assert least <= wait <= least + 420 * least / 3600 + 1
    drill.there.answer(MET, GOOD)
    good = drill.ask(at_s)
    assert good.kind == "fetched"
    drill.there.answer(MET, Reply(503))
    assert later(drill.ask(later(good))) - later(good) < 120


def test_tries_within_one_refresh_are_few_and_do_not_sleep_on_retry_after(drill: Drill) -> None:
    drill.there.answer(MET, Reply(503, {"Retry-After": "3600"}))
    began = time.monotonic()
    outcome = drill.ask()
    assert NOW_S + 3600 <= later(outcome) <= NOW_S + 3600 + 420  # what was told, and the spread
    assert drill.count == 3  # the first and two more
    # Nothing but loopback round trips; an hour's sleep would be seen. 20 s: a loaded machine.
    assert time.monotonic() - began < 20


def test_403_stops_the_source_until_a_setting_changes(drill: Drill) -> None:
    drill.there.answer(MET, FAULTS["403 blocked"])
    outcome = drill.ask()
    assert outcome.next_allowed_s is None
    assert "until a setting is changed" in outcome.reason
    assert drill.ask(NOW_S + 30 * 86400).kind == "kept"
    assert drill.count == 1
    drill.contact = "mate@example.org"
    drill.there.answer(MET, GOOD)
    assert drill.ask(NOW_S + 60).kind == "fetched"


@pytest.mark.parametrize(
    ("reply", "least_s", "most_s"),
    [
        (Reply(429, {"Retry-After": "1800"}), 1800, 1800 + 210),
        (Reply(429, {"Retry-After": "5"}), 60, 67),  # never under a minute
        (Reply(429, {"Retry-After": "9999999"}), 86400, 86400 + 420),
        (Reply(429, {"Retry-After": "soon"}), 900, 900 + 105),
        (
            Reply(
                429,
                {
                    "Retry-After": "Sun, 04 May 2031 09:30:00 GMT",
                    "Date": "Sun, 04 May 2031 09:00:00 GMT",
                },
            ),
            1800,
            1800 + 210,
        ),
        (FAULTS["429 minute"], 60, 67),
        # 14:20 UTC: 9 h 40 min to midnight
        (FAULTS["429 day"], 34800, 34800 + 420),
        (FAULTS["429 bare"], 900, 900 + 105),
    ],
)
def test_429_waits_as_long_as_told(drill: Drill, reply: Reply, least_s: int, most_s: int) -> None:
    drill.there.answer(MET, reply)
    outcome = drill.ask()
    assert NOW_S + least_s <= later(outcome) <= NOW_S + most_s
    assert drill.count == 1  # off at once: no second try


def test_a_place_outside_does_not_bar_another(drill: Drill) -> None:
    drill.there.answer(MET, Reply(422))
    assert drill.ask().kind == "kept"
    drill.there.answer(MET, GOOD)
    assert drill.ask(place=Place(41.3, -96.5)).kind == "fetched"
    assert drill.ask(NOW_S + 60).kind == "kept"  # here it still waits
    assert drill.count == 2


def test_a_503_bars_every_place(drill: Drill) -> None:
    drill.there.answer(MET, Reply(503))
    drill.ask()
    count = drill.count
    assert drill.ask(NOW_S + 30, place=Place(41.3, -96.5)).kind == "kept"
    assert drill.count == count


def test_203_works_and_warns(drill: Drill) -> None:
    meta = STORED["metno_203_deprecated"]
    drill.there.answer(MET, Reply(meta["status"], meta["headers"], GOOD.body))
    outcome = drill.ask()
    assert outcome.kind == "fetched"
    assert any("coming to its end" in warning for warning in outcome.warnings)


def test_a_301_to_fewer_decimals_is_followed(drill: Drill) -> None:
    drill.source_id = "nws"
    nws(drill.there)
    meta = STORED["nws_points_too_precise"]
    drill.there.answer("/points/41.23,", Reply(meta["status"], meta["headers"]))
    assert drill.ask().kind == "fetched"
    paths = [seen.path for seen in drill.there.seen]
    assert paths[:2] == ["/points/41.23,-96.54", "/points/41.2345,-96.5432"]


def test_a_point_that_moved_on_the_grid_is_resolved_once_more(drill: Drill) -> None:
    drill.source_id = "nws"
    nws(drill.there)
    first = drill.ask()
    drill.there.answer("/gridpoints/", FAULTS["404 marine"])
    count = drill.count
    outcome = drill.ask(later(first))
    assert outcome.kind == "kept"
    asked = [seen.path for seen in drill.there.seen[count:]]
    assert sum(path.startswith("/points/") for path in asked) == 1
    assert outcome.forecast is not None


def test_a_point_without_a_grid(drill: Drill) -> None:
    drill.source_id = "nws"
    drill.there.answer("/points/", stored("nws_points.json", "nws_points_null_grid.json"))
    outcome = drill.ask()
    assert outcome.kind == "kept"
    assert outcome.reason


def test_an_expired_grid_falls_back_on_the_hourly_forecast(drill: Drill) -> None:
    drill.source_id = "nws"
    nws(drill.there)
    drill.there.answer(
        "/gridpoints/",
        lambda seen: (
            stored("nws_hourly.json", "nws_hourly.json")
            if "/forecast/hourly" in seen.path
            else FAULTS["503 expired"]
        ),
    )
    outcome = drill.ask()
    assert outcome.kind == "fetched", outcome.reason
    assert any("asked in another way" in warning for warning in outcome.warnings)


def test_the_raw_grid_replaces_the_hourly_forecast_of_its_issue(drill: Drill) -> None:
    drill.source_id = "nws"
    nws(drill.there)
    grid = json.loads((DATA / "nws_gridpoint.json").read_text(encoding="utf-8"))
    hourly = json.loads((DATA / "nws_hourly.json").read_text(encoding="utf-8"))
    hourly["properties"]["updateTime"] = grid["properties"]["updateTime"]
    body = json.dumps(hourly).encode()
    drill.there.answer(
        "/gridpoints/",
        lambda seen: (
            replace(stored("nws_hourly.json"), body=body)
            if "/forecast/hourly" in seen.path
            else FAULTS["503 expired"]
        ),
    )
    first = drill.ask()
    assert first.forecast is not None
    assert "cloud_pct" not in first.forecast.hourly.columns
    drill.there.answer("/gridpoints/", stored("nws_gridpoint.json"))
    second = drill.ask(later(first))
    assert second.kind == "fetched", second.reason
    assert second.forecast is not None
    assert second.forecast.issued_s == first.forecast.issued_s
    assert "cloud_pct" in second.forecast.hourly.columns


def test_what_a_forecast_can_do_without_may_fail(drill: Drill) -> None:
    drill.source_id = "openmeteo"
    Settings(drill.store).set("openmeteo_agreed", True)
    drill.there.answer("/v1/forecast", stored("openmeteo_forecast_gmt.json"))
    drill.there.answer("/v1/ensemble", FAULTS["429 day"])
    outcome = drill.ask()
    assert outcome.kind == "fetched"
    assert outcome.forecast is not None
    assert not outcome.forecast.members
    assert drill.ask(later(outcome)).kind == "kept"  # but its "tomorrow" is obeyed
    assert drill.count == 2


# --- clocks -----------------------------------------------------------------------------------


@pytest.mark.parametrize(("hours", "side"), [(5, "ahead of"), (-5, "behind")])
def test_a_wrong_clock_is_told_and_does_not_break_expiry(
    drill: Drill, hours: int, side: str
) -> None:
    at_s = NOW_S + hours * 3600
    outcome = drill.ask(at_s)
    assert outcome.kind == "fetched", outcome.reason
    assert any(f"5 h {side}" in warning for warning in outcome.warnings)
    # Measured from the service's own Date: 23 min 10 s
    assert at_s + 1390 <= later(outcome) <= at_s + 1390 + 420


def test_a_clock_years_ahead_and_back_again(drill: Drill) -> None:
    """Nothing is pruned, nothing is held back for years."""
    older = drill.ask().forecast
    assert older is not None
    newer = GOOD.body.replace(b"2031-05-04T13:", b"2031-05-04T14:", 1)
    drill.there.answer(MET, replace(GOOD, body=newer))
    first = drill.ask(NOW_S + 3600)
    assert first.kind == "fetched", first
    assert len(archive.history(drill.store, "metno", MILL, 0)) == 2
    far = NOW_S + 5 * 365 * 86400
    ahead = drill.ask(far)
    assert ahead.forecast is not None
    assert len(archive.history(drill.store, "metno", MILL, 0)) == 2
    back = drill.ask(later(first) + 7200)
    assert back.kind in ("fetched", "unchanged")
    assert first.forecast is not None
    assert back.forecast is not None
    assert back.forecast.issued_s == first.forecast.issued_s


def test_a_stamp_of_the_future_does_not_hide_what_comes_after(drill: Drill) -> None:
    body = GOOD.body.replace(b"2031-05-04T13:49:00Z", b"2031-05-04T16:49:00Z")
    drill.there.answer(MET, replace(GOOD, body=body))
    first = drill.ask()
    assert first.forecast is None
    assert "time of issue" in first.reason
    drill.there.answer(MET, GOOD)
    second = drill.ask(later(first))
    assert second.kind == "fetched"
    assert second.forecast is not None
    assert second.forecast.issued_s == NOW_S - 31 * 60


@pytest.mark.parametrize("date", ["", "0", "-1", "yesterday", "Sun, 99 May 2031 14:20:00 GMT"])
def test_a_date_that_is_none(drill: Drill, date: str) -> None:
    drill.there.answer(MET, GOOD.but(Date=date, Expires=date))
    outcome = drill.ask()
    assert outcome.kind == "fetched"
    assert NOW_S + 600 <= later(outcome) <= NOW_S + 1020  # expired already: the floor holds
    drill.there.answer(MET, answers_304)
    assert drill.ask(later(outcome)).kind == "unchanged"  # and the validator was remembered


# --- the network ------------------------------------------------------------------------------


def test_names_cannot_be_looked_up(drill: Drill, monkeypatch: pytest.MonkeyPatch) -> None:
    good = drill.ask()

    def gone(*args: object, **kwargs: object) -> None:
        raise socket.gaierror(socket.EAI_NONAME, "Name or service not known")

    monkeypatch.setattr(socket, "getaddrinfo", gone)
    outcome = drill.ask(later(good))
    assert outcome.kind == "kept"
    assert "connection to the internet" in outcome.reason
    assert outcome.forecast is not None
    count = drill.count
    drill.ask(later(outcome, -1))
    assert drill.count == count


@pytest.mark.parametrize("quits", [False, True])
def test_looking_up_a_name_hangs(
    drill: Drill, monkeypatch: pytest.MonkeyPatch, quits: bool
) -> None:
    """Nothing can interrupt the system's resolver: it is left alone."""
    hangs, ends = threading.Event(), threading.Event()

    def hang(*args: object, **kwargs: object) -> None:
        hangs.set()
        ends.wait()
        raise socket.gaierror(socket.EAI_AGAIN, "Temporary failure in name resolution")

    monkeypatch.setattr(socket, "getaddrinfo", hang)
    outcomes: list[Outcome] = []
    work = threading.Thread(target=lambda: outcomes.append(drill.ask()))
    work.start()
    assert hangs.wait(10)
    if quits:
        drill.client.stop.set()
    work.join(10)  # the guard is 1 s
    ends.set()
    assert outcomes[0].kind == "kept"
    assert outcomes[0].reason == ("stopped" if quits else "MET Norway: no whole answer within 1 s")


def test_nobody_listens(drill: Drill, tmp_path: Path) -> None:
    with closing(socket.socket()) as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    source = Rerouted(by_id("metno"), f"http://127.0.0.1:{port}")
    outcome = refresh(drill.store, source, MILL, NOW_S, contact="", session=drill.client)
    assert (outcome.kind, outcome.reason) == ("kept", "MET Norway: no connection")


def test_plain_http_is_refused_without_a_request(drill: Drill, tmp_path: Path) -> None:
    drill.client = Client(tmp_path / "other.sqlite", limits=SHORT)
    outcome = drill.ask()
    assert outcome.kind == "kept"
    assert "without https" in outcome.reason
    assert drill.count == 0


@pytest.mark.skipif(os.name == "nt", reason="there the user's profile is private")
def test_what_is_remembered_is_for_the_user_alone(drill: Drill, tmp_path: Path) -> None:
    """The contact is in it, and where the shop is."""
    folder = tmp_path / "cache"
    folder.mkdir(mode=0o755)
    (folder / "http.sqlite").touch(mode=0o644)
    drill.client = Client(folder / "http.sqlite", limits=SHORT, own_machine=True)
    assert drill.ask().kind == "fetched"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    files = list(folder.iterdir())
    assert folder / "http.sqlite" in files
    assert {stat.S_IMODE(file.stat().st_mode) for file in files} == {0o600}
    newly = tmp_path / "new" / "cache"
    Client(newly / "http.sqlite", limits=SHORT).tidy()
    assert stat.S_IMODE(newly.stat().st_mode) == 0o700
    assert stat.S_IMODE((newly / "http.sqlite").stat().st_mode) == 0o600


# --- stopping ---------------------------------------------------------------------------------


@pytest.mark.parametrize("fault", ["silent", "silent after headers", "drip", "drip headers"])
def test_quitting_ends_within_two_seconds(drill: Drill, tmp_path: Path, fault: str) -> None:
    """With the program's own time-outs, which are far longer; the thread ends as well."""
    drill.there.answer(MET, replace(GOOD, fault=fault))
    drill.client = Client(tmp_path / "http.sqlite", own_machine=True)
    outcomes: list[Outcome] = []
    work = threading.Thread(target=lambda: outcomes.append(drill.ask()))
    work.start()
    assert drill.there.asked.wait(10)
    began = time.monotonic()
    drill.client.stop.set()
    work.join(10)
    # The flag is looked at twenty times a second; the rest is for a loaded machine.
    assert time.monotonic() - began < 2.0
    assert outcomes[0].kind == "kept"
    assert outcomes[0].reason == "stopped"


def test_stopped_before_it_began(drill: Drill) -> None:
    drill.client.stop.set()
    assert drill.ask().reason == "stopped"
    assert drill.count == 0


def test_stopped_between_two_questions(drill: Drill) -> None:
    drill.source_id = "nws"
    nws(drill.there)

    def points(seen: Seen) -> Reply:
        drill.client.stop.set()
        return stored("nws_points.json")

    drill.there.answer("/points/", points)
    assert drill.ask().reason == "stopped"
    assert drill.count == 1


def test_the_guard_ends_a_drip(drill: Drill) -> None:
    drill.there.answer(MET, replace(GOOD, fault="drip"))
    began = time.monotonic()
    outcome = drill.ask()
    assert "no whole answer within 1 s" in outcome.reason
    # A byte each 10 ms would take over twenty minutes; the guard is 1 s, the rest is for load.
    assert time.monotonic() - began < 10


# --- the database and the cache ---------------------------------------------------------------


def test_a_busy_database_does_not_lose_the_forecast(drill: Drill, tmp_path: Path) -> None:
    with (
        Store(drill.store.path, busy_ms=20) as impatient,
        closing(sqlite3.connect(drill.store.path, isolation_level=None)) as other,
    ):
        drill.store = impatient
        other.execute("BEGIN IMMEDIATE")
        outcome = drill.ask()
        assert outcome.forecast is not None
        assert "could not be stored" in outcome.reason
        assert drill.ask(later(outcome, -1)).kind == "not due"  # held in memory
        assert drill.count == 1
        other.execute("ROLLBACK")
        assert drill.ask(later(outcome)).kind == "fetched"
        assert archive.latest(impatient, "metno", MILL) is not None


def test_a_busy_database_and_a_fault(drill: Drill) -> None:
    with (
        Store(drill.store.path, busy_ms=20) as impatient,
        closing(sqlite3.connect(drill.store.path, isolation_level=None)) as other,
    ):
        drill.store = impatient
        drill.there.answer(MET, Reply(429))
        other.execute("BEGIN IMMEDIATE")
        outcome = drill.ask()
        assert outcome.kind == "kept"
        drill.ask(later(outcome, -1))
        assert drill.count == 1
        other.execute("ROLLBACK")


def test_two_windows_do_not_ask_twice(drill: Drill, tmp_path: Path) -> None:
    """The second asks while the first waits for its answer."""
    second = Drill(
        drill.store, drill.there, Client(tmp_path / "b.sqlite", limits=SHORT, own_machine=True)
    )
    outcomes: list[Outcome] = []

    def answer(seen: Seen) -> Reply:
        outcomes.append(second.ask())
        return GOOD

    drill.there.answer(MET, answer)
    drill.client = Client(tmp_path / "a.sqlite", limits=Limits(), own_machine=True)
    assert drill.ask().kind == "fetched"
    assert [one.kind for one in outcomes] == ["not due"]
    assert drill.count == 1


@pytest.mark.parametrize("damage", [b"not a database at all" * 500, b""])
def test_a_damaged_cache_is_made_anew(drill: Drill, tmp_path: Path, damage: bytes) -> None:
    (tmp_path / "http.sqlite").write_bytes(damage)
    first = drill.ask()
    assert first.kind == "fetched"
    drill.there.answer(MET, answers_304)
    assert drill.ask(later(first)).kind == "unchanged"
    assert "if-modified-since" in drill.there.seen[1].headers


def test_a_cache_that_cannot_be_written_is_left_out(drill: Drill, tmp_path: Path) -> None:
    (tmp_path / "a file").write_text("in the way")
    drill.client = Client(tmp_path / "a file" / "http.sqlite", limits=SHORT, own_machine=True)
    assert drill.ask().kind == "fetched"


def test_a_killed_program_still_gets_what_its_cache_had_seen(drill: Drill) -> None:
    """Answer in the cache, not yet in the archive: "not modified" must bring it in."""
    drill.ask()
    with drill.store.write() as db:
        db.execute("DELETE FROM forecast")
        db.execute("DELETE FROM http_state")
    drill.there.answer(MET, answers_304)
    assert drill.ask(NOW_S + 3600).kind == "fetched"
    assert archive.latest(drill.store, "metno", MILL) is not None


@pytest.mark.parametrize("good", [True, False])
def test_a_key_is_neither_told_nor_stored_with_the_addresses(drill: Drill, good: bool) -> None:
    drill.source_id = "openmeteo"
    Settings(drill.store).set("openmeteo_key", "very-private")
    if good:
        drill.there.answer("/v1/forecast", stored("openmeteo_forecast_gmt.json"))
        drill.there.answer("/v1/ensemble", stored("openmeteo_ensemble.json"))
    else:
        drill.there.answer("/v1/", Reply(fault="reset"))
    outcome = drill.ask()
    assert outcome.kind == ("fetched" if good else "kept")
    assert "very-private" in drill.there.seen[0].path
    assert "very-private" not in outcome.reason
    with drill.store.read() as db:
        rows = db.execute("SELECT * FROM http_state").fetchall()
    assert len(rows) == (3 if good else 1)
    assert "very-private" not in repr(rows)
