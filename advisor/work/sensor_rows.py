"""What sensors bring, kept: rows, what is not yet sealed, and where each sensor stands.

All three are written in one transaction, so that a crash neither loses a row nor doubles one.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from advisor.climate import reading_store
from advisor.climate.live import judge
from advisor.climate.live.follow import Batch, Memory, Portion
from advisor.climate.live.judge import Neighbour, Track
from advisor.climate.live.standing import is_good
from advisor.climate.readings import COLUMNS, FloatArray, Origin, ReadingTable

#: Two numbers of one second are the same reading within this.
SAME = 1e-9
OTHER_THERE = "another value stands at that second"


@dataclass(frozen=True)
class Standing:
    """What is stored of a sensor. `latest`: newest good value and UTC seconds of each quantity.

    `came` = `kept` + `repeated` + the sum of `refused`, counted in lines of a log or messages.
    `flags` are those of the newest row; `retained` tells that only old messages came so far.
    """

    memory: Memory = field(default_factory=dict)
    tracks: Mapping[str, Track] = field(default_factory=dict)
    latest: Mapping[str, tuple[float, int]] = field(default_factory=dict)
    came: int = 0
    kept: int = 0
    repeated: int = 0
    refused: Mapping[str, int] = field(default_factory=dict)
    flags: int = 0
    newest_s: int = 0
    note: str = ""


def stored(db: sqlite3.Connection, sensor_id: str) -> Standing | None:
    """Return what is stored of a sensor, None where it was not heard yet."""
    row = db.execute("SELECT json FROM sensor_state WHERE id = ?", (sensor_id,)).fetchone()
    if row is None:
        return None
    found = json.loads(row[0])
    tracks = judge.from_plain(found.pop("tracks"))
    latest = {name: (value, time_s) for name, (value, time_s) in found.pop("latest").items()}
    return Standing(**found, tracks=tracks, latest=latest)


def store_standing(db: sqlite3.Connection, sensor_id: str, now: Standing) -> None:
    """Keep how a sensor stands, inside a write transaction."""
    plain = {**vars(now), "tracks": judge.to_plain(now.tracks)}
    db.execute(
        "INSERT INTO sensor_state (id, json) VALUES (?, ?) "
        "ON CONFLICT (id) DO UPDATE SET json = excluded.json",
        (sensor_id, json.dumps(plain)),
    )


def keep_batch(
    db: sqlite3.Connection,
    sensor_id: str,
    area: str,
    batch: Batch,
    before: Standing,
    neighbours: Sequence[Neighbour] = (),
) -> Standing:
    """Keep what one look brought, inside a write transaction; returns how the sensor stands.

    `neighbours` are the other sensors that tell of the same area.
    """
    now = replace(
        before,
        came=before.came + batch.came,
        repeated=before.repeated + batch.repeated,
        refused=_added(before.refused, batch.refused),
        note=batch.note,
        memory=before.memory if batch.memory is None else batch.memory,
    )
    for portion in batch.portions:
        now = _keep_portion(db, sensor_id, area, portion, now, neighbours)
    now = replace(now, kept=now.came - now.repeated - sum(now.refused.values()))
    store_standing(db, sensor_id, now)
    return now


def _keep_portion(
    db: sqlite3.Connection,
    sensor_id: str,
    area: str,
    portion: Portion,
    now: Standing,
    neighbours: Sequence[Neighbour],
) -> Standing:
    if not len(portion.table):
        return now
    judged, tracks = judge.judged_table(portion.table, now.tracks)
    judged = judge.compared_table(judged, neighbours)
    adds, same = _compared(db, judged, area)
    new = judged.part(adds)
    reading_store.put_table(db, new, area)
    _put_unsealed(db, sensor_id, new)
    other = int(portion.weights[~adds & ~same].sum())
    now = replace(
        now,
        tracks=tracks,
        repeated=now.repeated + int(portion.weights[same].sum()),
        refused=_added(now.refused, {OTHER_THERE: other} if other else {}),
    )
    return _with_newest(now, new)


def _compared(
    db: sqlite3.Connection, table: ReadingTable, area: str
) -> tuple[np.ndarray, np.ndarray]:
    """Return which rows add a value, and which repeat what stands there already; bool [n]."""
    names = [name for name in COLUMNS if name in table.columns]
    span = (int(table.time_s[0]), int(table.time_s[-1]), area, Origin.MEASURED.value)
    found = db.execute(
        f"SELECT time_s, {', '.join(names)} FROM reading "
        "WHERE time_s BETWEEN ? AND ? AND area = ? AND origin = ?",
        span,
    )
    there = {row[0]: row[1:] for row in found}
    adds = np.ones(len(table), dtype=np.bool_)
    same = np.zeros(len(table), dtype=np.bool_)
    columns = [table.columns[name] for name in names]
    for row, time_s in enumerate(table.time_s.tolist()):
        before = there.get(time_s)
        if before is not None:
            values = [float(column[row]) for column in columns]
            pairs = [(v, b) for v, b in zip(values, before, strict=True) if not math.isnan(v)]
            adds[row] = any(b is None for _, b in pairs)
            same[row] = not adds[row] and all(abs(v - b) <= SAME for v, b in pairs)
    return adds, same


def _put_unsealed(db: sqlite3.Connection, sensor_id: str, table: ReadingTable) -> None:
    times, flags = table.time_s.tolist(), table.flags.tolist()
    for name, values in table.columns.items():
        cells = zip(times, values.tolist(), flags, strict=True)
        db.executemany(
            "INSERT OR IGNORE INTO sensor_row (sensor_id, time_s, quantity, value, flags) "
            "VALUES (?, ?, ?, ?, ?)",
            [(sensor_id, t, name, v, f) for t, v, f in cells if f or not math.isnan(v)],
        )


def _with_newest(now: Standing, table: ReadingTable) -> Standing:
    """Add the newest good values, and the flags of the newest row."""
    latest = dict(now.latest)
    good = np.array([is_good(int(f)) for f in table.flags], dtype=np.bool_)
    for name, values in table.columns.items():
        rows = np.flatnonzero(good & np.isfinite(values))
        if len(rows):
            time_s = int(table.time_s[rows[-1]])
            if time_s >= latest.get(name, (0.0, -(2**62)))[1]:
                latest[name] = (float(values[rows[-1]]), time_s)
    now = replace(now, latest=latest)
    if len(table) and int(table.time_s[-1]) >= now.newest_s:
        now = replace(now, flags=int(table.flags[-1]), newest_s=int(table.time_s[-1]))
    return now


def _added(before: Mapping[str, int], more: Mapping[str, int]) -> dict[str, int]:
    return dict(Counter(before) + Counter(more))


def unsealed(db: sqlite3.Connection, sensor_id: str, before_s: int) -> ReadingTable:
    """Return a sensor's rows before a moment that are not in the record yet."""
    rows = db.execute(
        "SELECT time_s, quantity, value, flags FROM sensor_row "
        "WHERE sensor_id = ? AND time_s < ? ORDER BY time_s",
        (sensor_id, before_s),
    ).fetchall()
    times = np.array(sorted({row[0] for row in rows}), dtype=np.int64)
    at = {time_s: place for place, time_s in enumerate(times.tolist())}
    flags = np.zeros(len(times), dtype=np.uint16)
    names = dict.fromkeys(row[1] for row in rows)
    columns: dict[str, FloatArray] = {name: np.full(len(times), np.nan) for name in names}
    for time_s, name, value, flag in rows:
        columns[name][at[time_s]] = np.nan if value is None else value
        flags[at[time_s]] |= np.uint16(flag)
    return ReadingTable(times, columns, flags, Origin.MEASURED)


def forget_unsealed(db: sqlite3.Connection, sensor_id: str, before_s: int) -> None:
    """Forget rows that are in the record now, inside its transaction."""
    db.execute("DELETE FROM sensor_row WHERE sensor_id = ? AND time_s < ?", (sensor_id, before_s))
