"""Values typed one after the other in the boxes are one reading."""

from __future__ import annotations

from advisor.ui.main_window import MainWindow
from advisor.ui.panes.at_the_work import ONE_READING_S

from .conftest import Clock, Settle

VALUES = {"air_temp_c": "18", "rh_pct": "55", "surface_temp_c": "9"}


def type_all(window: MainWindow, clock: Clock, gap_s: float) -> None:
    for name, value in VALUES.items():
        box = window.before_mixing.work.boxes[name]
        box.field.setText(value)
        box.field.textEdited.emit(value)
        box.field.returnPressed.emit()
        clock.now_s += gap_s


def test_values_confirmed_in_one_round_are_one_reading(window: MainWindow, clock: Clock) -> None:
    began_s = clock()
    type_all(window, clock, 40.0)
    (reading,) = window.before_mixing.work.typed()
    assert (reading.air_temp_c, reading.rh_pct, reading.surface_temp_c) == (18.0, 55.0, 9.0)
    assert reading.taken_s == int(began_s)  # never younger than its oldest value


def test_values_of_other_times_stay_apart(window: MainWindow, clock: Clock) -> None:
    type_all(window, clock, ONE_READING_S + 1.0)
    assert len(window.before_mixing.work.typed()) == 3


def test_the_first_reading_asks_for_a_name(
    window: MainWindow, clock: Clock, settle: Settle
) -> None:
    bench, page = window.desk.bench, window.before_mixing
    bench.settings.set("person", "")
    began_s, held = int(clock()), bench.record.head().entries
    type_all(window, clock, 1.0)
    page.record.click()
    settle(window)
    assert window.desk.messages.text == "Readings: kept once you say who is writing."
    assert bench.record.head().entries == held
    clock.now_s += 60
    page.who.given.emit("A. Painter")
    settle(window)
    assert window.desk.messages.text == "Readings kept."
    last = bench.record.entry(bench.record.head().entries)
    assert last is not None
    assert (last.kind, last.by, last.at_s) == ("reading", "A. Painter", began_s)
