"""A log read again is sealed once; in a sensor's doubt only a typed value stands. Invented rows."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.live.sensor import Sensor
from advisor.climate.readings import Flag, Origin, ReadingTable
from advisor.planning.job import Area, Coat, Job
from advisor.work import zones
from advisor.work.workbench import Workbench
from tests.helpers.products import HOUR_S, MONDAY_S

NOW = MONDAY_S + 12 * HOUR_S
AIR = "air_temp_c"


def test_a_log_read_again_is_not_sealed_twice(store: Store, root: Path, tmp_path: Path) -> None:
    bench = Workbench(store, root / "resources")
    coats = (Coat("side", "gloss", "side", "own-gloss", 1.0),)
    bench.save_job(Job("j", "job", "shed", "UTC", (Area("side", "side", 1.0),), coats))
    log = tmp_path / "shed.csv"
    bench.sensors.save(Sensor("shed", "Shed", "file", path=str(log), time_zone="UTC"))
    lines = [f"2026-05-25T{h:02}:{m:02}:00Z,20.0,50.0\n" for h in (8, 9) for m in range(60)]
    head = "time,Temp (°C),RH (%)\n"
    now_s = float(np.datetime64("2026-05-25T10:30:00").astype("datetime64[s]").astype(np.int64))
    log.write_text(head + "".join(lines), encoding="utf-8")
    assert bench.sensors.poll(now_s)[0].rows_kept == 120
    assert len(bench.sensors.seal(now_s)) == 1
    other = tmp_path / "part"
    other.write_text(head + "".join(reversed(lines)), encoding="utf-8")
    os.replace(other, log)
    assert bench.sensors.poll(now_s)[0].rows_repeated == 120  # it was indeed read again
    assert bench.sensors.seal(now_s) == ()


def keep(store: Store, at_s: float, air: float, flags: Flag, origin: Origin) -> None:
    at, flagged = np.array([at_s], dtype=np.int64), np.array([int(flags)], dtype=np.uint16)
    reading_store.save_table(store, ReadingTable(at, {AIR: np.array([air])}, flagged, origin))


@pytest.mark.parametrize("origin", [Origin.TYPED, Origin.IMPORTED])
def test_in_doubt_of_the_sensor_only_a_typed_value_stands(store: Store, origin: Origin) -> None:
    keep(store, NOW - 30, 45.0, Flag.SPIKE, Origin.MEASURED)
    keep(store, NOW - 30, 20.0, Flag.NONE, origin)
    keep(store, NOW, 45.0, Flag.SPIKE, Origin.MEASURED)
    found = zones.newest(store, NOW, ("",))[AIR]
    assert found.value == (20.0 if origin is Origin.TYPED else 45.0)
