"""Every lie of a sensor is flagged and cannot give go; what is true counts at once. Invented rows.

The shop, its product and its limits are those of `test_sensors`: only the sensor decides.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.base.store import Store
from advisor.planning.verdict import Verdict
from advisor.work.workbench import Workbench
from tests.unit.test_sensors import COLD_GLOSS, HEADER, JOB, NOW, followed, hours_of, row, write

DRY, WET = {"air": 20.0, "rh": 50.0, "surface": 20.0}, {"air": 12.0, "rh": 90.0, "surface": 11.0}
ALLOWED = (Verdict.GO, Verdict.BORDERLINE)


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    made = Workbench(store, root / "resources")
    path = tmp_path / "own.toml"
    path.write_text(COLD_GLOSS, encoding="utf-8")
    made.add_product_file(path)
    made.save_job(JOB)
    return made


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "shed.csv"
    path.write_text(HEADER, encoding="utf-8")
    return path


def verdict(bench: Workbench, now_s: float) -> Verdict:
    return bench.before_mixing("side", now_s).verdict


def told(bench: Workbench, log: Path, at_s: float, **values: float) -> str:
    """Let a sensor tell one row; return what is doubted of it."""
    write(log, row(at_s, **values))
    return bench.sensors.poll(at_s)[0].doubt


@pytest.mark.parametrize("late_s", [0, 1, 61, 299])
def test_what_was_told_last_is_judged_at_once(bench: Workbench, log: Path, late_s: int) -> None:
    """Starts lie on a grid of five minutes: a row between two of its points counts too."""
    bench.sensors.save(followed(log))
    write(log, *hours_of(5, NOW - 60))
    bench.sensors.poll(NOW - 60)
    assert verdict(bench, NOW - 60) in ALLOWED
    assert not told(bench, log, NOW + late_s, surface=10.5)  # dew point 9.3 °C, 3 K asked
    assert verdict(bench, NOW + late_s) is Verdict.WAIT
    assert not told(bench, log, NOW + late_s + 20)
    assert verdict(bench, NOW + late_s + 20) in ALLOWED
