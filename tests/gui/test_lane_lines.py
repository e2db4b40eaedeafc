"""The picture shows the lines of the area whose lane is chosen."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from advisor.ui.main_window import MainWindow

from .conftest import Settle


def test_an_area_in_the_open_has_its_own_lines(window: MainWindow, settle: Settle) -> None:
    bench = window.desk.bench
    job = bench.job()
    assert job is not None
    boards = job.area("bottom-boards")
    steel = replace(boards, substrate="steel", outdoors=True, heading_deg=180.0)
    areas = tuple(steel if a.id == boards.id else a for a in job.areas)
    bench.save_job(replace(job, areas=areas))
    window.open_pane("coming_days")
    window.reload()
    settle(window)
    picture = window.coming_days.picture
    assert picture is not None
    k = next(i for i, x in enumerate(picture.lanes) if x.lane.area.id == boards.id)
    shed, yard = picture.of_lane(0), picture.of_lane(k)
    ahead = picture.time_s > picture.now_s + 3600
    apart = np.nanmax(np.abs(shed.surface_c[ahead] - yard.surface_c[ahead]))
    # Steel under sun and sky against timber behind the air of a stone shed: kelvins apart.
    assert apart > 2.0
    assert yard.band is not None
    assert yard.band is not shed.band
    before = window.coming_days.view.grab().toImage()
    window.coming_days.view._choose(k, picture.now_s)
    settle(window)
    assert window.coming_days.view.grab().toImage() != before
