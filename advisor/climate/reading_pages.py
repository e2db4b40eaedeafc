"""Stored readings by position, newest first: a page out of millions by counts kept with them."""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass, replace

import numpy as np

from advisor.base.store import Store
from advisor.climate.reading_spans import ALWAYS, DOUBT, STEPS_S
from advisor.climate.reading_store import OBSERVED
from advisor.climate.reading_strands import counts
from advisor.climate.readings import IntArray, Origin

_STEP_S = STEPS_S[ALWAYS]
_COLUMNS = ("time_s", "area", "origin", "flags", "air_temp_c", "rh_pct", "dew_point_c",
            "surface_temp_c")  # fmt: skip


@dataclass(frozen=True)
class Wanted:
    """Which rows: of these areas and origins, in [`first_s`, `last_s`], doubtful ones only."""

    areas: tuple[str, ...]
    origins: tuple[Origin, ...] = OBSERVED
    first_s: int | None = None
    last_s: int | None = None
    only_doubtful: bool = False


@dataclass(frozen=True)
class StoredRow:
    """One row as it is kept; None where nothing was read. `time_s` UTC seconds."""

    time_s: int
    area: str
    origin: Origin
    flags: int
    air_temp_c: float | None
    rh_pct: float | None
    dew_point_c: float | None
    surface_temp_c: float | None


@dataclass(frozen=True, eq=False)
class StoredPages:
    """The rows wanted as they stood when asked for: `steps` [k] hold `each` [k] rows, newest first.

    Rows that come in later are not among them, so that nothing moves under the reader's eyes.
    """

    store: Store
    wanted: Wanted
    steps: IntArray
    each: IntArray

    @property
    def rows(self) -> int:
        """Return how many rows there are."""
        return int(self.each.sum())

    def page(self, first: int, count: int) -> tuple[StoredRow, ...]:
        """Return up to `count` rows from position `first`, newest first."""
        ends = np.cumsum(self.each)
        k = int(np.searchsorted(ends, first, side="right"))
        skip = first - (int(ends[k - 1]) if k else 0)
        found: list[StoredRow] = []
        with self.store.read() as db:
            while len(found) < count and k < len(self.steps):
                last = self._run_from(k, skip + count - len(found))
                found += self._fetch(db, (k, last), skip, count - len(found))
                k, skip = last + 1, 0
        return tuple(found)

    def _run_from(self, k: int, rows: int) -> int:
        """Return the last step of the run without holes from `k` on that holds enough rows."""
        last, have = k, int(self.each[k])
        while (
            have < rows
            and last + 1 < len(self.steps)
            and self.steps[last + 1] == self.steps[last] - 1
        ):
            last += 1
            have += int(self.each[last])
        return last

    def _fetch(
        self, db: sqlite3.Connection, run: tuple[int, int], skip: int, count: int
    ) -> list[StoredRow]:
        newest, oldest = int(self.steps[run[0]]), int(self.steps[run[1]])
        span = (oldest * _STEP_S, (newest + 1) * _STEP_S - 1)
        condition, values = _condition(self.wanted, span)
        rows = db.execute(
            f"SELECT {', '.join(_COLUMNS)} FROM reading WHERE {condition} "
            "ORDER BY time_s DESC, area DESC, origin DESC LIMIT ? OFFSET ?",
            (*values, count, skip),
        )
        return [StoredRow(time_s, area, Origin(origin), *rest)
                for time_s, area, origin, *rest in rows]  # fmt: skip


def stored_pages(store: Store, wanted: Wanted) -> StoredPages:
    """Count the rows wanted. What was marked must be laid out before: `reading_spans.refresh`."""
    total: dict[int, int] = {}
    with store.read() as db:
        for area in wanted.areas:
            for origin in wanted.origins:
                first, pair = counts(db, area, origin)
                rows = pair[1 if wanted.only_doubtful else 0]
                for at in np.flatnonzero(rows).tolist():
                    total[first + at] = total.get(first + at, 0) + int(rows[at])
        total = _cut(db, wanted, total)
        wanted = _until_newest(db, wanted, total)
    steps = sorted(total, reverse=True)
    each = [total[step] for step in steps]
    return StoredPages(store, wanted, np.array(steps, np.int64), np.array(each, np.int64))


def _until_newest(db: sqlite3.Connection, wanted: Wanted, total: dict[int, int]) -> Wanted:
    """End the stretch with its newest row, so that a later one shifts no position."""
    if not total:
        return wanted
    newest = max(total)
    condition, values = _condition(wanted, (newest * _STEP_S, (newest + 1) * _STEP_S - 1))
    found = db.execute(f"SELECT max(time_s) FROM reading WHERE {condition}", values).fetchone()[0]
    return wanted if found is None else replace(wanted, last_s=found)


def _cut(db: sqlite3.Connection, wanted: Wanted, total: dict[int, int]) -> dict[int, int]:
    """Leave out what lies outside the stretch; count anew where a step is cut by its end."""
    first = -(2**62) if wanted.first_s is None else wanted.first_s
    last = 2**62 if wanted.last_s is None else wanted.last_s
    kept = {step: rows for step, rows in total.items()
            if (step + 1) * _STEP_S > first and step * _STEP_S <= last}  # fmt: skip
    for step in {first // _STEP_S, last // _STEP_S} & kept.keys():
        span = (step * _STEP_S, (step + 1) * _STEP_S - 1)
        condition, values = _condition(wanted, span)
        query = f"SELECT count(*) FROM reading WHERE {condition}"
        kept[step] = db.execute(query, values).fetchone()[0]
    return {step: rows for step, rows in kept.items() if rows}


def _condition(wanted: Wanted, span: tuple[int, int]) -> tuple[str, tuple[object, ...]]:
    first = span[0] if wanted.first_s is None else max(span[0], wanted.first_s)
    last = span[1] if wanted.last_s is None else min(span[1], wanted.last_s)
    areas, origins = (", ".join("?" * len(x)) for x in (wanted.areas, wanted.origins))
    doubt = f" AND flags & {DOUBT} <> 0" if wanted.only_doubtful else ""
    condition = f"time_s BETWEEN ? AND ? AND area IN ({areas}) AND origin IN ({origins}){doubt}"
    return condition, (first, last, *wanted.areas, *(o.value for o in wanted.origins))
