"""How readings are drawn: holes, doubts, origins apart, round moments."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication

from advisor.climate.reading_strands import Strand
from advisor.climate.readings import Origin
from advisor.ui.plots.axis import Axis
from advisor.ui.plots.lines import Heights
from advisor.ui.plots.readings_key import signs
from advisor.ui.plots.readings_picture import (
    Ribbon,
    draw_filling,
    holes,
    nearest,
    ribbon,
    shown_lines,
)
from advisor.ui.plots.readings_plot import Fetched, ReadingsPlot
from advisor.ui.plots.time_ticks import ticks
from advisor.ui.theme import Look

pytestmark = pytest.mark.gui
LONDON = ZoneInfo("Europe/London")


def strand(
    time_s: list[float], origin: Origin = Origin.MEASURED, hole_s: float = 300.0, step_s: int = 0
) -> Strand:
    n = len(time_s)
    line = np.stack((np.full(n, 10.0), np.full(n, 11.0 if step_s else 10.0)))
    lines = {"air_temp_c": line + 2, "wet_point_c": line - 5, "surface_temp_c": line}
    doubtful = np.zeros(n)
    doubtful[-1] = 1
    return Strand(origin, np.array(time_s), step_s, lines, np.ones(n), doubtful, hole_s)


def test_a_gap_is_drawn_as_a_gap() -> None:
    made = ribbon(strand([0, 60, 120, 1000, 1060]), "metric")
    surface = made.lines["surface_temp_c"][0]
    assert np.isnan(surface).tolist() == [False, False, False, True, False, False]
    assert made.time_s.tolist() == [0, 60, 120, 120, 1000, 1060]
    assert made.doubtful.tolist() == [False, False, False, False, False, True]


def test_typed_points_have_no_line_to_break() -> None:
    made = ribbon(strand([0, 60, 90_000], Origin.TYPED), "metric")
    assert made.time_s.tolist() == [0, 60, 90_000]


def test_units_are_the_readers() -> None:
    made = ribbon(strand([0, 60]), "us")
    assert made.lines["surface_temp_c"][0].tolist() == [50.0, 50.0]
    assert made.margin_k.tolist() == [5.0, 5.0]  # kept in K: told in the reader's own later


def test_a_wide_hole_is_named_unless_somebody_typed_in_it() -> None:
    logged = ribbon(strand([0, 60, 8000, 8060]), "metric")
    axis = Axis(0, 8060, 0, 806)
    assert holes((logged,), axis, 110) == [(6.0, 800.0)]
    typed = ribbon(strand([4000], Origin.TYPED), "metric")
    assert holes((logged, typed), axis, 500) == []


def test_the_air_is_drawn_only_where_no_surface_was_read() -> None:
    made = strand([0, 60])
    made.lines["surface_temp_c"][:] = np.nan
    assert shown_lines((ribbon(made, "metric"),)) == ("wet_point_c", "air_temp_c")
    assert shown_lines((ribbon(strand([0, 60]), "metric"),)) == ("wet_point_c", "surface_temp_c")


def test_the_key_names_only_what_is_on_show() -> None:
    measured = ribbon(strand([0, 60]), "metric")
    assert signs((measured,), ("wet_point_c", "surface_temp_c")) == (
        "surface", "dew", "measured", "doubt",
    )  # fmt: skip
    stepped = ribbon(strand([0, 60], Origin.IMPORTED, step_s=16), "metric")
    assert "band" in signs((stepped,), ("wet_point_c", "surface_temp_c"))
    assert "imported" in signs((stepped,), ("wet_point_c", "surface_temp_c"))


def test_the_nearest_point_is_never_a_hole() -> None:
    made = ribbon(strand([0, 60, 120, 1000, 1060]), "metric")
    found = nearest((made,), 130.0)
    assert found is not None
    assert found[1] == 2
    assert nearest((), 0.0) is None


@pytest.mark.parametrize("origin", [Origin.TYPED, Origin.MEASURED, Origin.IMPORTED])
def test_each_origin_leaves_its_own_marks(qapp: QApplication, origin: Origin) -> None:
    """The same values, drawn by each origin, make three different pictures."""
    drawn = {one: _ink(one) for one in (Origin.TYPED, Origin.MEASURED, Origin.IMPORTED)}
    others = [drawn[one] for one in drawn if one is not origin]
    assert all(drawn[origin] != other for other in others)
    assert drawn[origin] > 0


def _ink(origin: Origin) -> int:
    """Count the pixels in the colour of the surface."""
    look = Look("light", 100)
    plot = ReadingsPlot(look)
    plot.resize(800, 300)
    plot.set_reach((0.0, 3600.0))
    plot.show_view(0.0, 3600.0)
    times = [60.0 * k for k in range(0, 60, 5)]
    plot.show_fetched(Fetched(-3600, 7200, 10, (ribbon(strand(times, origin), "metric"),)))
    image = plot.grab().toImage()
    wanted = look.colour("surface")
    plot.deleteLater()
    top = 40  # below the key, which has the same colours
    count = 0
    for y in range(top, image.height()):
        for x in range(image.width()):
            found = image.pixelColor(x, y)
            # A thin line is softened at its edges: half way to the paper still counts.
            off = abs(found.red() - wanted.red()) + abs(found.blue() - wanted.blue())
            count += off < 160 and found.red() > found.blue() + 60
    return count


def test_an_imported_log_is_filled_where_the_sensor_had_not_begun(qapp: QApplication) -> None:
    """Both lines known is enough: the sensor's filling does not take the older log's away."""
    minutes = [60.0 * k for k in range(60)]
    imported = ribbon(strand(minutes[::5], Origin.IMPORTED), "metric")
    sensor = ribbon(strand(minutes[20:41]), "metric")
    alone = _warm((imported,))
    assert alone == [True, True, True]
    assert _warm((sensor,)) == [False, True, False]
    assert _warm((sensor, imported)) == [True, True, True]


def test_two_logs_are_not_filled_on_each_other(qapp: QApplication) -> None:
    """Where the sensor says wet, the log that says dry is silent, and the other way round."""
    minutes = [60.0 * k for k in range(60)]
    imported = ribbon(strand(minutes[::5], Origin.IMPORTED), "metric")
    wet = strand(minutes[20:41])
    wet.lines["wet_point_c"][:] = 12.0
    assert _warm((ribbon(wet, "metric"), imported)) == [True, False, True]


def test_two_sensors_read_in_turn_are_two_whole_lines(qapp: QApplication) -> None:
    """Air from one, the surface from another a minute later: lines and filling, not dots."""
    minutes = [60.0 * k for k in range(60)]
    made = strand(minutes)
    made.lines["wet_point_c"][:, 1::2] = np.nan
    made.lines["surface_temp_c"][:, ::2] = np.nan
    made.lines["surface_temp_c"][:, :20] = np.nan  # hung up at 20 minutes
    both = ribbon(made, "metric")
    assert np.isnan(both.drawn["surface_temp_c"][0]).tolist() == [True] * 21 + [False] * 39
    assert np.isnan(both.drawn["wet_point_c"][0]).tolist() == [False] * 59 + [True]
    assert _warm((both,)) == [False, True, True]
    # What is told of a moment stays what was read in it.
    assert np.isnan(both.lines["surface_temp_c"][0, 30])


def test_a_sensor_that_stopped_is_not_drawn_on_because_another_goes_on() -> None:
    minutes = [60.0 * k for k in range(60)]
    made = strand(minutes)
    made.lines["surface_temp_c"][:, 20:40] = np.nan
    there = ~np.isnan(ribbon(made, "metric").drawn["surface_temp_c"][0])
    assert there.tolist() == [True] * 20 + [False] * 20 + [True] * 20


def _warm(parts: tuple[Ribbon, ...]) -> list[bool]:
    """Whether the filling of a dry surface is seen at 10, 30 and 50 of 60 minutes, at 7.5°."""
    look = Look("light", 100)
    picture = QImage(600, 200, QImage.Format.Format_RGB32)
    picture.fill(look.colour("field"))
    painter = QPainter(picture)
    draw_filling(painter, look, parts, Axis(0, 3600, 0, 600), Heights(0.0, 20.0, 0.0, 200.0))
    painter.end()
    wanted = look.colour("warm")
    return [picture.pixelColor(x, 125) == wanted for x in (100, 300, 500)]


@pytest.mark.parametrize("span_s", [600, 3600, 86400, 5 * 86400, 40 * 86400, 400 * 86400, 1e9])
def test_round_moments_are_few_and_in_order(span_s: float) -> None:
    first = 1_779_840_123.0
    found = ticks(first, first + span_s, LONDON, 9)
    assert 1 <= len(found) <= 12
    assert [t.at_s for t in found] == sorted({t.at_s for t in found})
    assert all(first <= t.at_s <= first + span_s for t in found)
    assert len({t.words for t in found}) > 1 or len(found) == 1


def test_midnight_is_the_readers_over_a_change_of_the_clock() -> None:
    # British clocks go forward on the last Sunday in March, 01:00 UTC (Summer Time Order 2002,
    # from memory): in 2031 that is the 30th.
    first = datetime(2031, 3, 29, 12, tzinfo=UTC).timestamp()
    found = ticks(first, first + 3 * 86400, LONDON, 6)
    midnights = [datetime.fromtimestamp(t.at_s, LONDON).hour for t in found if t.strong]
    assert set(midnights) == {0}
    assert [t.words for t in found if t.strong][:2] == ["Sun 30", "Mon 31"]
