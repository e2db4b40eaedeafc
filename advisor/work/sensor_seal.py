"""Sensors in the record: whole hours of rows become a file by its hash, and one entry."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from advisor.base.attachments import Attachments
from advisor.climate.live.sensor import Sensor
from advisor.climate.logs.canonical import canonical_text
from advisor.record.canonical import Json
from advisor.record.entry import Draft, Entry, iso
from advisor.work import sensor_rows
from advisor.work.kept_import import row_blocks

if TYPE_CHECKING:
    from advisor.climate.readings import ReadingTable
    from advisor.work.kept import Kept

HOUR_S = 3600
#: An hour is sealed this long after its end, so that late rows are in it.
WAIT_S = 300


def seal(bench: Kept, sensor: Sensor, now_s: float) -> Entry | None:
    """Seal a sensor's whole hours; None where there are no rows, or no job to keep them for.

    Rows that come later for an hour sealed already are sealed with a later one.
    """
    before_s = int((now_s - WAIT_S) // HOUR_S) * HOUR_S
    with bench.store.read() as db:
        table = sensor_rows.unsealed(db, sensor.id, before_s)
    if not len(table) or bench.job() is None:
        return None
    attachments = Attachments(bench.store.path)
    sha256 = attachments.keep_bytes(canonical_text(table).encode("utf-8"))
    draft = _draft(bench, sensor, table, sha256, now_s)
    with bench.store.write() as db:
        again = sensor_rows.unsealed(db, sensor.id, before_s)
        if not _same(table, again):  # another window sealed it, or a late row came: next time
            return None
        sensor_rows.forget_unsealed(db, sensor.id, before_s)
        return bench.record.append(db, draft)


def _same(first: ReadingTable, second: ReadingTable) -> bool:
    return np.array_equal(first.time_s, second.time_s) and all(
        np.array_equal(values, second.column(name), equal_nan=True)
        for name, values in first.columns.items()
    )


def _draft(bench: Kept, sensor: Sensor, table: ReadingTable, sha256: str, now_s: float) -> Draft:
    job = bench.job_in_hand()
    first, last = (iso(float(t), job.time_zone) for t in (table.time_s[0], table.time_s[-1]))
    path = Attachments(bench.store.path).path(sha256)
    data: dict[str, Json] = {
        "file_name": f"{sensor.id} {first[:13].replace(':', '')}.csv",
        "sha256": sha256,
        "bytes": str(path.stat().st_size),
        "sensor": sensor.name,
        "zone": sensor.zone,
        "rows_read": str(len(table)),
        "rows_used": str(len(table)),
        "rows_dropped": "0",
        "rows_flagged": str(int(np.count_nonzero(table.flags))),
        "first": first,
        "last": last,
        "columns": ", ".join(table.columns),
        "source": "measured",
        "blocks": row_blocks(path),
    }
    area = sensor.zone if any(a.id == sensor.zone for a in job.areas) else ""
    return bench.record.draft("import", data, at_s=float(table.time_s[-1]), now_s=now_s,
                              area_id=area)  # fmt: skip
