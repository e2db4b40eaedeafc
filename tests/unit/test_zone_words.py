"""Whose the time zone of an imported file is."""

from __future__ import annotations

from pathlib import Path

from advisor.base.store import Store
from advisor.work.workbench import Workbench

LOG = "time,air temp C,RH %\n2025-05-01 08:00,15.0,60\n2025-05-01 08:10,15.2,61\n"


def test_the_jobs_zone_is_not_said_to_be_told_by_anyone(store: Store, tmp_path: Path) -> None:
    bench, path = Workbench(store, Path("resources")), tmp_path / "log.csv"
    path.write_text(LOG, encoding="utf-8")
    bench.load_demo(1746086400.0)
    words = bench.preview(path).report.mapping["zone"]
    assert "told by you" not in words
    assert "the job's own" in words
    told = bench.preview(path, time_zone="Europe/Paris").report.mapping["zone"]
    assert told == "Europe/Paris (told by you)"
