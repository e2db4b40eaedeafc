"""What the shed was told to do, kept as it was told, so that it can be held against the log."""

from __future__ import annotations

import json

import numpy as np

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.readings import LOGGED
from advisor.climate.series import Series
from advisor.planning.words import Words
from advisor.work.outlook_basis import DAY_S
from advisor.work.scorecard import Log, Said, Scorecard, scorecard

HOUR_S = 3600
#: A course is kept this often at most, and this many hours of it.
EVERY_S, HOURS_KEPT = 3 * HOUR_S, 36
#: Nights shown, and how long what was said is kept.
NIGHTS, KEPT_S = 30, 400 * DAY_S


def due(store: Store, now_s: float) -> bool:
    """Whether the last course kept is old enough for another."""
    with store.read() as db:
        row = db.execute("SELECT max(issued_s) FROM said").fetchone()
    return row[0] is None or not row[0] <= now_s < row[0] + EVERY_S


def keep(store: Store, air: Series, now_s: float) -> None:
    """Keep what the shop's air is told to be in the coming hours; nothing where it is unknown."""
    first_s = -int(-now_s // HOUR_S) * HOUR_S
    times = first_s + HOUR_S * np.arange(HOURS_KEPT, dtype=np.int64)
    at = np.rint((times - air.start_s) / air.step_s).astype(np.int64)
    inside = (at >= 0) & (at < len(air))
    values = np.where(inside, air.air_temp_c[np.clip(at, 0, max(0, len(air) - 1))], np.nan)
    if np.isnan(values).all():
        return
    told = [None if np.isnan(v) else round(float(v), 2) for v in values]
    with store.write() as db:
        db.execute(
            "INSERT OR IGNORE INTO said (issued_s, start_s, step_s, air_temp_c_json) "
            "VALUES (?, ?, ?, ?)",
            (int(now_s), first_s, HOUR_S, json.dumps(told)),
        )
        db.execute("DELETE FROM said WHERE issued_s < ?", (int(now_s) - KEPT_S,))


def scores(store: Store, words: Words, now_s: float, area: str = "") -> Scorecard:
    """Hold what was said of the last nights against the shop's own log; of the demo nothing."""
    since = int(now_s) - NIGHTS * DAY_S
    table = reading_store.load(store, since, int(now_s), area, LOGGED)
    log = Log(table.time_s, table.column("air_temp_c"))
    said = [] if area else _said(store, since)
    return scorecard(said, log, words.zone, now_s, words.units)


def _said(store: Store, since_s: int) -> list[Said]:
    with store.read() as db:
        rows = db.execute(
            "SELECT issued_s, start_s, step_s, air_temp_c_json FROM said WHERE issued_s >= ? "
            "ORDER BY issued_s",
            (since_s,),
        ).fetchall()
    found = []
    for issued_s, start_s, step_s, text in rows:
        values = np.array(json.loads(text), dtype=float)
        times = start_s + step_s * np.arange(len(values), dtype=np.int64)
        found.append(Said(float(issued_s), times, values))
    return found
