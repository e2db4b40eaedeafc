"""Stored forecast answers, and reading them as a client would."""

from __future__ import annotations

import gzip
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from advisor.base.store import Store
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources.all_sources import by_id
from advisor.climate.sources.archive import Body
from advisor.climate.sources.source import BadAnswer, FollowUp

FOLDER = Path(__file__).resolve().parents[1] / "data" / "forecasts"
PLACE = Place(41.2345, -96.5432, 361.0)
#: 2031-05-04 14:20 UTC, when the answers were made.
NOW_S = 1_935_670_800
HOUR_S = 3600

#: (source, kind, file) of every good answer that is a forecast by itself.
GOOD = (
    ("metno", "complete", "metno_compact.json"),
    ("metno", "complete", "metno_complete_global.json"),
    ("metno", "complete", "metno_complete_percentiles.json"),
    ("nws", "grid", "nws_gridpoint.json"),
    ("nws", "hourly", "nws_hourly.json"),
    ("nws", "hourly", "nws_hourly_qv.json"),
    ("brightsky", "weather", "brightsky_weather.json"),
    ("openmeteo", "forecast", "openmeteo_forecast_gmt.json"),
    ("openmeteo", "forecast", "openmeteo_forecast_unixtime.json"),
    ("openmeteo", "ensemble", "openmeteo_ensemble.json"),
)
#: Answers that lead on or add to a forecast.
OTHERS = (
    ("nws", "points", "nws_points.json"),
    ("nws", "stations", "nws_stations.json"),
    ("nws", "observations", "nws_observations.json"),
)


def raw(name: str) -> bytes:
    return (FOLDER / name).read_bytes()


def load(name: str) -> Any:
    return json.loads(raw(name))


def kept_bodies(store: Store) -> tuple[Body, ...]:
    """The answers kept in an archive, oldest forecast first, in the order they were parsed."""
    with store.read() as db:
        rows = db.execute(
            "SELECT kind, body_gzip, fetched_s FROM forecast_body ORDER BY forecast_id, step"
        ).fetchall()
    return tuple(Body(kind, gzip.decompress(body), at_s) for kind, body, at_s in rows)


def at(text: str) -> int:
    """UTC seconds of 2031-05-04T14:00."""
    return int(np.datetime64(text, "s").astype(np.int64))


def parse(
    source: str,
    kind: str,
    answer: Any,
    earlier: Forecast | None = None,
    now_s: float = NOW_S,
    place: Place = PLACE,
) -> Forecast | FollowUp:
    """Read an answer given as a file name, bytes or an object to be written as JSON."""
    if isinstance(answer, str):
        body = raw(answer)
    else:
        body = answer if isinstance(answer, bytes) else json.dumps(answer).encode()
    return by_id(source).parse(kind, body, place, now_s, earlier)


def forecast(
    source: str, kind: str, answer: Any, earlier: Forecast | None = None, now_s: float = NOW_S
) -> Forecast:
    found = parse(source, kind, answer, earlier, now_s)
    assert isinstance(found, Forecast)
    return found


def value(found: Forecast, name: str, time: str) -> float:
    """One value of a forecast, NaN outside its hours."""
    hourly = found.hourly
    k, rest = divmod(at(time) - hourly.start_s, hourly.step_s)
    inside = rest == 0 and 0 <= k < len(hourly)
    return float(hourly.column(name)[k]) if inside else float("nan")


def step_at(found: Forecast, time: str) -> float:
    return float(found.step_h[(at(time) - found.hourly.start_s) // HOUR_S])


def bad_line(error: BadAnswer) -> str:
    """The message, which must be one line naming source, place, found and accepted."""
    line = str(error)
    assert line.isprintable(), line
    assert line.startswith(f"{error.source}: {error.where}: found {error.found}; accepted: ")
    assert error.where
    assert error.found
    assert error.accepted
    assert len(line) < 400
    return line


GONE = object()


def changed(name: str, path: str, new: Any) -> Any:
    """A stored answer with one value replaced, or deleted by `GONE`; path as "a.b.3.c"."""
    answer = load(name)
    *before, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    node = answer
    for part in before:
        node = node[part]
    if new is GONE:
        del node[last]
    else:
        node[last] = new
    return answer


def refused(source: str, kind: str, answer: Any, earlier: Forecast | None = None) -> BadAnswer:
    """The error an answer must raise, with its line checked."""
    with pytest.raises(BadAnswer) as caught:
        parse(source, kind, answer, earlier)
    bad_line(caught.value)
    assert caught.value.source == by_id(source).name
    return caught.value
