"""Every good forecast, for a year: what the outlook reads and its errors are learned from.

Only answers that were parsed and found plausible get here, so nothing a network can send
replaces a good forecast. An answer that says what the last one said is not stored again; the
row only remembers when it was last confirmed. One of the same issue that says more takes the
row over: a raw grid after the poorer hourly periods, hours observed since. Places are cut to
two decimals, as asked. Members are kept of the newest only: nobody looks back at them, and they
are most of a forecast.
"""

from __future__ import annotations

import gzip
import hashlib
import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from advisor.base.store import Store
from advisor.climate.outdoor import OUTDOOR_COLUMNS, Forecast, Outdoor
from advisor.climate.place import Place
from advisor.climate.sources import forecast_json
from advisor.climate.sources.richer import fuller

#: Forecasts not confirmed for longer than this are dropped.
KEPT_S = 365 * 86400
#: The past is what a source said at most this long ahead (its own past hours included).
PAST_LEAD_S = 3 * 3600
_HOUR_S = 3600

#: By issue where the source tells it, so that an old one served again does not come first; else
#: by arrival: our own clock may have been wrong.
_NEWEST_FIRST = "ORDER BY issued_s DESC, id DESC LIMIT 1"  # NULL comes last
_SAME_PLACE = "source = ? AND lat_deg = ? AND lon_deg = ? AND altitude_m = ?"


@dataclass(frozen=True)
class Body:
    """One answer as it came, decoded: the kind of the question and the bytes."""

    kind: str
    body: bytes
    fetched_s: int


@dataclass(frozen=True, eq=False)
class Kept:
    """A forecast and when its source last said the same (UTC seconds)."""

    forecast: Forecast
    checked_s: int


def put(store: Store, forecast: Forecast, place: Place, bodies: Sequence[Body], now_s: int) -> bool:
    """Keep a validated forecast; False when it says no more than the last one said.

    `place` is the shop's own, not yet cut.
    """
    key = _key(forecast.source, place)
    sha = forecast_json.values_sha256(forecast)
    with store.write() as db:
        same = _said_before(db, key, forecast.issued_s, sha)
        if same is None:
            before = _newest(db, key)
            number = _insert(db, key, forecast, sha, bodies, now_s)
            _drop_members(db, key, number if before is None else before[0], number)
            return True
        number, kept_sha = same
        db.execute("UPDATE forecast SET checked_s = ? WHERE id = ?", (now_s, number))
        return kept_sha != sha and _took_over(db, number, kept_sha, forecast, bodies)


def prune(store: Store, now_s: int) -> int:
    """Drop what was last confirmed over a year ago; return how many.

    The newest of each place stays whatever its age: it is the last good one.
    """
    with store.write() as db:
        done = db.execute(
            "DELETE FROM forecast WHERE checked_s < ? AND EXISTS (SELECT 1 FROM forecast AS newer "
            "WHERE newer.source = forecast.source AND newer.lat_deg = forecast.lat_deg "
            "AND newer.lon_deg = forecast.lon_deg AND newer.altitude_m = forecast.altitude_m "
            "AND (COALESCE(newer.issued_s, 0), newer.id) "
            "> (COALESCE(forecast.issued_s, 0), forecast.id))",
            (now_s - KEPT_S,),
        )
    return done.rowcount


def latest(store: Store, source_id: str, place: Place) -> Forecast | None:
    """Return the newest good forecast, however old it is."""
    kept = latest_kept(store, source_id, place)
    return None if kept is None else kept.forecast


def latest_kept(store: Store, source_id: str, place: Place) -> Kept | None:
    """Return the newest good forecast with the time it was last confirmed."""
    with store.read() as db:
        row = _newest(db, _key(source_id, place))
    return None if row is None else Kept(forecast_json.from_bytes(row[2]), row[1])


def history(
    store: Store,
    source_id: str,
    place: Place,
    since_s: int,
    *,
    every_s: int = 0,
    with_members: bool = False,
) -> list[Forecast]:
    """Return the forecasts fetched since then, oldest first, at least `every_s` apart.

    Hours that were past when it was fetched are holes: no forecast of them was made. Only the
    newest has members to be had.
    """
    with store.read() as db:
        rows = db.execute(
            f"SELECT id, fetched_s FROM forecast WHERE {_SAME_PLACE} AND fetched_s >= ? "
            "ORDER BY fetched_s, id",
            (*_key(source_id, place), since_s),
        ).fetchall()
        kept = [_parsed(db, number) for number in _apart(rows, every_s)]
    return [_foretold(forecast_json.from_bytes(one, with_members=with_members)) for one in kept]


def recent_past(
    store: Store, source_id: str, place: Place, since_s: int, until_s: int, *, every_s: int = 0
) -> Outdoor:
    """Return the hours from `since_s` to `until_s` as the source said them shortly before.

    Each value is the last one said, at most three hours ahead of when the source said it or
    last confirmed it; hours nobody said are NaN. Values a source gives for its own past count.
    With `every_s`, forecasts between two that are no further apart are not looked at.
    """
    start_s = -(-since_s // _HOUR_S) * _HOUR_S
    count = max(0, (until_s - start_s) // _HOUR_S + 1)
    columns = {name: np.full(count, np.nan) for name in OUTDOOR_COLUMNS}
    given: set[str] = set()
    derived: set[str] = set()
    for kept in _touching(store, _key(source_id, place), (since_s, until_s), every_s):
        _overlay(columns, start_s, kept)
        given |= set(kept.forecast.hourly.columns)
        derived |= kept.forecast.hourly.derived
    wanted = given | {"air_temp_c", "dew_point_c"}
    named = {name: column for name, column in columns.items() if name in wanted}
    return Outdoor(start_s, _HOUR_S, named, frozenset(derived))


def _key(source_id: str, place: Place) -> tuple[str, float, float, float]:
    cut = place.cut()
    return source_id, cut.lat_deg, cut.lon_deg, cut.altitude_m


def _newest(
    db: sqlite3.Connection, key: tuple[str, float, float, float]
) -> tuple[int, int, bytes] | None:
    row: tuple[int, int, bytes] | None = db.execute(
        f"SELECT id, checked_s, parsed_gzip FROM forecast WHERE {_SAME_PLACE} {_NEWEST_FIRST}",
        key,
    ).fetchone()
    return row


def _said_before(
    db: sqlite3.Connection,
    key: tuple[str, float, float, float],
    issued_s: int | None,
    sha: str,
) -> tuple[int, str] | None:
    """Return the row of the same issue; where no issue is told, the newest if it says the same."""
    if issued_s is not None:
        row: tuple[int, str] | None = db.execute(
            f"SELECT id, sha256 FROM forecast WHERE {_SAME_PLACE} AND issued_s = ?",
            (*key, issued_s),
        ).fetchone()
        return row
    row = db.execute(
        f"SELECT id, sha256 FROM forecast WHERE {_SAME_PLACE} {_NEWEST_FIRST}", key
    ).fetchone()
    return row if row is not None and row[1] == sha else None


def _apart(rows: Iterable[tuple[int, int]], every_s: int) -> list[int]:
    """Return the ids of rows (id, time) in order that are at least so far apart."""
    found: list[int] = []
    last_s: int | None = None
    for number, at_s in rows:
        if last_s is None or at_s - last_s >= every_s:
            found.append(number)
            last_s = at_s
    return found


def _parsed(db: sqlite3.Connection, number: int) -> bytes:
    row: tuple[bytes] = db.execute(
        "SELECT parsed_gzip FROM forecast WHERE id = ?", (number,)
    ).fetchone()
    return row[0]


def _foretold(forecast: Forecast) -> Forecast:
    """Return the forecast without the hours before it was fetched: they may be observed."""
    hourly = forecast.hourly
    past = hourly.time_s < forecast.fetched_s // _HOUR_S * _HOUR_S
    if not past.any():
        return forecast
    columns = {name: np.where(past, np.nan, column) for name, column in hourly.columns.items()}
    return replace(forecast, hourly=replace(hourly, columns=columns))


def _took_over(
    db: sqlite3.Connection, number: int, kept_sha: str, forecast: Forecast, answers: Iterable[Body]
) -> bool:
    """Put a forecast in the place of a poorer one of its issue; False where it says no more."""
    whole = fuller(forecast, forecast_json.from_bytes(_parsed(db, number)))
    sha = "" if whole is None else forecast_json.values_sha256(whole)
    if whole is None or sha == kept_sha:
        return False
    db.execute(
        "UPDATE forecast SET fetched_s = ?, sha256 = ?, parsed_gzip = ? WHERE id = ?",
        (whole.fetched_s, sha, forecast_json.to_bytes(whole), number),
    )
    db.execute("DELETE FROM forecast_body WHERE forecast_id = ?", (number,))
    _insert_bodies(db, number, answers)
    return True


def _insert(
    db: sqlite3.Connection,
    key: tuple[str, float, float, float],
    forecast: Forecast,
    sha: str,
    answers: Iterable[Body],
    now_s: int,
) -> int:
    parsed = forecast_json.to_bytes(forecast)
    row = (*key, forecast.fetched_s, now_s, forecast.issued_s, sha, parsed)
    number = db.execute(
        "INSERT INTO forecast (source, lat_deg, lon_deg, altitude_m, fetched_s, checked_s, "
        "issued_s, sha256, parsed_gzip) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        row,
    ).lastrowid
    assert number is not None
    _insert_bodies(db, number, answers)
    return number


def _drop_members(db: sqlite3.Connection, key: tuple[str, float, float, float], *ids: int) -> None:
    """Drop the members of rows, but not of the newest."""
    newest = _newest(db, key)
    for number in ids:
        if newest is not None and number != newest[0]:
            short = forecast_json.without_members(_parsed(db, number))
            db.execute("UPDATE forecast SET parsed_gzip = ? WHERE id = ?", (short, number))


def _insert_bodies(db: sqlite3.Connection, number: int, answers: Iterable[Body]) -> None:
    for step, answer in enumerate(answers):
        digest = hashlib.sha256(answer.body).hexdigest()
        packed = gzip.compress(answer.body, mtime=0)
        db.execute(
            "INSERT INTO forecast_body (forecast_id, step, kind, fetched_s, sha256, body_gzip) "
            "VALUES (?, ?, ?, ?, ?, ?)",
            (number, step, answer.kind, answer.fetched_s, digest, packed),
        )


def _touching(
    store: Store, key: tuple[str, float, float, float], span_s: tuple[int, int], every_s: int
) -> list[Kept]:
    """Return what was said near the span, in the order it was last confirmed."""
    with store.read() as db:
        rows = db.execute(
            f"SELECT id, checked_s FROM forecast WHERE {_SAME_PLACE} "
            "AND checked_s >= ? ORDER BY checked_s, id",
            (*key, span_s[0] - PAST_LEAD_S),
        ).fetchall()
        found = [(_parsed(db, number), at_s) for number, at_s in _close(rows, every_s)]
    read = forecast_json.from_bytes
    kept = [Kept(read(parsed, with_members=False), at_s) for parsed, at_s in found]
    return [one for one in kept if one.forecast.hourly.start_s <= span_s[1]]


def _close(rows: Sequence[tuple[int, int]], every_s: int) -> list[tuple[int, int]]:
    """Leave out rows (id, time) between two that are no further apart than that."""
    found: list[tuple[int, int]] = []
    for i, row in enumerate(rows):
        last = i + 1 == len(rows)
        if last or not found or rows[i + 1][1] - found[-1][1] > every_s:
            found.append(row)
    return found


def _overlay(columns: dict[str, NDArray[np.float64]], start_s: int, kept: Kept) -> None:
    """Write the values of a forecast over what was said before it, where it has any."""
    hourly = kept.forecast.hourly
    times = hourly.time_s
    at, rest = np.divmod(times - start_s, _HOUR_S)
    size = len(columns["air_temp_c"])
    near = (times <= kept.checked_s + PAST_LEAD_S) & (rest == 0) & (at >= 0) & (at < size)
    for name, column in hourly.columns.items():
        use = near & np.isfinite(column)
        columns[name][at[use]] = column[use]
