"""The Shop pane by hand: the shop, its forecast, its answer to the weather, and a dead service."""

from __future__ import annotations

import re
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QLineEdit, QWidget
from pytestqt.qtbot import QtBot

from advisor.base.store import Store
from advisor.climate.place import Place
from advisor.climate.shop.shop import Shop
from advisor.ui.dialogs.typed_forecast import TypedForecastDialog
from advisor.ui.main_window import MainWindow
from advisor.ui.panes.shop_form import degrees
from advisor.ui.widgets.source_row import SourceRow
from advisor.work.instruments import Instruments

from .conftest import NOW_S, Clock, Settle
from .outlook_bench import TERMS, OutlookBench

JUDGED = ("go", "close")
LEFT, CTRL = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def bench(store: Store, root: Path) -> OutlookBench:
    made = OutlookBench(store, root / "resources")
    made.begin()
    return made


@pytest.fixture
def shop(window: MainWindow, settle: Settle) -> Iterator[MainWindow]:
    window.open_pane("shop")
    settle(window)
    yield window
    gate = window.desk.bench.gate  # type: ignore[attr-defined]
    if gate is not None:
        gate.set()


def words_of(page: QWidget) -> str:
    QApplication.processEvents()  # a label just added is shown with the next turn of the loop
    return "\n".join(label.text() for label in page.findChildren(QLabel) if label.isVisibleTo(page))


def write(line: QLineEdit, words: str) -> None:
    line.setText(words)
    line.textEdited.emit(words)


def sd_of(words: str) -> float:
    """Return what stands behind the first ± on a page."""
    found = re.search(r" K [^\n]*?± (\d+\.\d)", words)
    assert found is not None, words
    return float(found.group(1))


def row(window: MainWindow, name: str) -> SourceRow:
    return next(r for r in window.shop.forecast.rows if r.source.id == name)


def click(qtbot: QtBot, widget: QWidget) -> None:
    assert widget.isVisible()
    qtbot.mouseClick(widget, LEFT)


# --- the shop -----------------------------------------------------------------------------


def test_the_pane_shows_the_shop(shop: MainWindow) -> None:
    form = shop.shop.form
    assert form.kind.key == "stone shed"
    assert form.volume.number == 260.0
    assert (form.lat.value, form.lon.value) == ("50.3712", "-4.1427")
    assert "it is told 50.37, -4.14" in form.seen.text()
    # Half-widths of common practice: 0.29 √3 = 0.5 K, 1.7 √3 = 2.9 %, 0.58 √3 = 1.0 K.
    assert form.instruments.counted.text() == (
        "Counted with: air ± 0.5 K, humidity ± 3 points, surface ± 1.0 K"
    )
    assert [field.value for field in form.instruments.fields] == ["", "", ""]


def test_a_changed_shop_is_kept_as_typed(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    form = shop.shop.form
    form.kind.choose("metal shed")
    write(form.volume.line, "90")
    write(form.lat.line, "59,911")
    write(form.lon.line, "10.75 E")
    write(form.altitude.line, "7")
    assert form.state.text() == "Not kept yet."
    click(qtbot, form.keep)
    settle(shop)
    assert bench.calls.saved == [Shop("metal shed", 90.0, Place(59.911, 10.75, 7.0))]
    assert not form.state.isVisible()


def test_what_the_makers_state_is_kept_with_the_shop(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    fields = shop.shop.form.instruments
    write(fields.air.line, "0,2")
    write(fields.surface.line, "0.4")
    assert shop.shop.form.state.text() == "Not kept yet."
    click(qtbot, shop.shop.form.keep)
    settle(shop)
    assert bench.instruments() == Instruments(0.2, None, 0.4)
    assert fields.counted.text() == (
        "Counted with: air ± 0.2 K, humidity ± 3 points, surface ± 0.4 K"
    )
    shop.switch_units()
    settle(shop)
    # 0.2 K = 0.36 F°, 0.4 K = 0.72 F°: differences, so without the 32.
    assert [field.value for field in fields.fields] == ["0.36", "", "0.72"]
    write(fields.rh.line, "2")
    click(qtbot, shop.shop.form.keep)
    settle(shop)
    assert bench.instruments() == Instruments(0.2, 2.0, 0.4)
    write(fields.air.line, "")
    click(qtbot, shop.shop.form.keep)
    settle(shop)
    assert bench.instruments() == Instruments(None, 2.0, 0.4)


@pytest.mark.parametrize(("name", "typed"), [("air", "-1"), ("rh", "51"), ("surface", "good")])
def test_a_wrong_accuracy_is_told_and_nothing_kept(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, name: str, typed: str, settle: Settle
) -> None:
    wrong = getattr(shop.shop.form.instruments, name)
    write(wrong.line, typed)
    click(qtbot, shop.shop.form.keep)
    settle(shop)
    assert wrong.error.endswith(", or empty")
    assert (bench.calls.saved, bench.instruments()) == ([], Instruments())


def test_a_better_probe_narrows_the_verdict(shop: MainWindow, qtbot: QtBot, settle: Settle) -> None:
    shop.open_pane("before_mixing")
    settle(shop)
    before = sd_of(words_of(shop.before_mixing))
    shop.open_pane("shop")
    settle(shop)
    write(shop.shop.form.instruments.surface.line, "0.1")
    write(shop.shop.form.instruments.rh.line, "1")
    click(qtbot, shop.shop.form.keep)
    shop.open_pane("before_mixing")
    settle(shop)
    # Common practice: surface 0.58 K alone. Now 0.1/√3 K and 1/√3 points, 0.2 K to the point
    # at worst, and air at 0.29 K: under 0.4 K in all.
    assert before >= 0.6
    assert sd_of(words_of(shop.before_mixing)) <= 0.4


def test_untouched_numbers_keep_their_exact_value_in_us_units(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    shop.switch_units()
    settle(shop)
    # 260 m³ / 0.3048³ = 9181.8 ft³ (international foot).
    assert shop.shop.form.volume.value == "9181.8"
    click(qtbot, shop.shop.form.keep)
    settle(shop)
    assert bench.calls.saved == [Shop("stone shed", 260.0, Place(50.3712, -4.1427, 12.0))]


def test_a_refresh_never_takes_typing_away(
    shop: MainWindow, bench: OutlookBench, clock: Clock, settle: Settle
) -> None:
    write(shop.shop.form.volume.line, "33")
    bench.shop_now = Shop("tent", 12.0)
    clock.now_s += 60
    shop.tick()
    settle(shop)
    assert shop.shop.form.volume.value == "33"
    shop.switch_units()
    settle(shop)
    # 33 m³ / 0.3048³ = 1165.4 ft³: what was typed, in the other units.
    assert shop.shop.form.volume.value == "1165.4"
    assert shop.shop.form.state.text() == "Not kept yet."


@pytest.mark.parametrize(
    ("field", "typed"),
    [("lat", "91"), ("lat", "north"), ("lon", "181"), ("lon", ""), ("volume", "0"),
     ("altitude", "9000")],
)  # fmt: skip
def test_a_wrong_field_is_told_and_nothing_kept(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, field: str, typed: str, settle: Settle
) -> None:
    wrong = getattr(shop.shop.form, field)
    write(wrong.line, typed)
    click(qtbot, shop.shop.form.keep)
    settle(shop)
    assert wrong.error
    assert bench.calls.saved == []


@pytest.mark.parametrize(
    ("typed", "letters", "value"),
    [("50.37", "NS", 50.37), ("50,37 s", "NS", -50.37), ("4.14W", "EW", -4.14),
     ("−4.14", "EW", -4.14), ("4.14° E", "EW", 4.14), ("x", "NS", None), ("", "NS", None),
     ("nan", "NS", None)],
)  # fmt: skip
def test_degrees(typed: str, letters: str, value: float | None) -> None:
    assert degrees(typed, letters) == value


def test_first_run_says_what_is_missing(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    bench.shop_now, bench.known, bench.source_now = None, False, ""
    shop.open_pane("help")
    shop.open_pane("shop")
    settle(shop)
    told = words_of(shop.shop)
    assert "No place yet, so no forecast is fetched" in told
    assert "until three days are logged" in told
    assert "No picture yet" in told
    assert "No night to compare yet" in told
    click(qtbot, shop.shop.forecast.switch)
    settle(shop)
    assert "Say where the shop stands first" in words_of(shop.shop)
    assert bench.calls.fetched == []


# --- sources ------------------------------------------------------------------------------


def test_nothing_is_fetched_by_default(shop: MainWindow, bench: OutlookBench) -> None:
    assert not shop.shop.forecast.switch.isChecked()
    assert bench.calls.fetched == []
    assert not any(r.fetch_now.isVisible() for r in shop.shop.forecast.rows)
    assert [r.mark.state for r in shop.shop.forecast.rows] == ["off", "fresh", "off", "off"]


def test_switching_on_sends_the_contact_and_fetches(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    shop.shop.forecast.contact.line.setFocus()
    qtbot.keyClicks(shop.shop.forecast.contact.line, "crew@example.org")
    click(qtbot, shop.shop.forecast.switch)
    settle(shop)
    assert bench.calls.switched[-1] == (True, "crew@example.org")
    assert len(bench.calls.fetched) == 1
    assert "hours to Sat 23 May" in shop.shop.forecast.told.text()
    click(qtbot, row(shop, "metno").fetch_now)
    settle(shop)
    assert len(bench.calls.fetched) == 2


def test_it_asks_once_an_hour(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, clock: Clock, settle: Settle
) -> None:
    click(qtbot, shop.shop.forecast.switch)
    settle(shop)
    for _ in range(119):  # half a minute each: 59.5 minutes
        clock.now_s += 30
        shop.forecasts.tick()
    settle(shop)
    assert len(bench.calls.fetched) == 1
    clock.now_s += 30
    shop.forecasts.tick()
    settle(shop)
    assert len(bench.calls.fetched) == 2


def test_a_refused_contact_leaves_the_switch_as_it_was(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    bench.refuse = "contact: found 'x'; accepted: a mail or web address"
    click(qtbot, shop.shop.forecast.switch)
    settle(shop)
    assert not shop.shop.forecast.switch.isChecked()
    assert shop.desk.messages.text == bench.refuse


def test_another_source_is_one_press(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    click(qtbot, row(shop, "brightsky").use)
    settle(shop)
    assert bench.calls.chosen == [("brightsky", False)]
    assert row(shop, "brightsky").mark.state == "waiting"


def test_terms_are_read_before_they_are_agreed_to(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    found = row(shop, "openmeteo")
    assert TERMS not in words_of(shop.shop)
    click(qtbot, found.use)
    assert TERMS in words_of(shop.shop)
    assert bench.calls.chosen == []
    click(qtbot, found.not_now)
    assert found.use.isVisible()
    click(qtbot, found.use)
    shop.tick()  # a minute goes by while the terms are read
    settle(shop)
    assert found.terms.isVisible()
    click(qtbot, found.agree)
    settle(shop)
    assert bench.calls.chosen == [("openmeteo", True)]


@pytest.mark.parametrize(
    ("state", "told"),
    [("old", "1 d"), ("failed", "the service answered 503, busy"), ("waiting", "nothing fetched")],
)
def test_old_and_failed_are_words_and_shapes(
    shop: MainWindow, bench: OutlookBench, settle: Settle, state: str, told: str
) -> None:
    fresh = row(shop, "metno").mark.grab().toImage()
    bench.state_now = state
    shop.open_pane("shop")
    settle(shop)
    assert row(shop, "metno").mark.grab().toImage() != fresh
    shown = words_of(row(shop, "metno"))
    assert ("31 h old" if state == "old" else told) in shown
    shop.open_pane("coming_days")
    settle(shop)
    line = shop.coming_days.source
    assert line.mark.state == state
    assert line.line.text().startswith("MET Norway")
    assert "CC BY 4.0" in line.line.text()
    assert ("too old to lean on" if state == "old" else told) in line.line.text()


def test_a_failed_fetch_is_told_in_one_line_and_blocks_nothing(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot, settle: Settle
) -> None:
    click(qtbot, shop.shop.forecast.switch)
    settle(shop)
    bench.refuse = "MET Norway: found status 403; accepted: 200"
    click(qtbot, row(shop, "metno").fetch_now)
    settle(shop)
    assert shop.shop.forecast.told.text() == bench.refuse
    shop.open_pane("before_mixing")
    settle(shop)
    assert shop.before_mixing.answer.mark.kind in JUDGED


def test_a_hanging_fetch_holds_up_neither_verdict_nor_end(
    shop: MainWindow, bench: OutlookBench, qtbot: QtBot
) -> None:
    bench.gate = threading.Event()
    click(qtbot, shop.shop.forecast.switch)
    qtbot.waitUntil(bench.started.is_set)
    assert "everything else goes on" in shop.shop.forecast.told.text()
    shop.open_pane("before_mixing")
    qtbot.waitUntil(lambda: shop.before_mixing.answer.mark.kind in JUDGED, timeout=20_000)
    assert not shop.desk.network.idle()
    begin = time.monotonic()
    shop.close()
    # The design's fault drill: quit within 2 s.
    assert time.monotonic() - begin < 2.0


# --- how the shop follows the weather ------------------------------------------------------


def test_figures_picture_and_nights(shop: MainWindow, settle: Settle) -> None:
    told = words_of(shop.shop.response)
    for words in ("fitted to 11 days of log", "a door left open?", "5.4 h", "0.6 K", "2.6 K",
                  "1.9 K", "said 13.1 °C at dawn, your shed did 12.6"):  # fmt: skip
        assert words in told
    picture = shop.shop.response.picture
    metric = picture.grab().toImage()
    assert "same as outdoors 1.9 K 1.7 K" in picture.accessibleDescription()
    shop.switch_units()
    settle(shop)
    assert picture.grab().toImage() != metric
    # 0.62 K is 1.1 F°: a difference, without the 32.
    assert "this shop's forecast 1.1 F°" in picture.accessibleDescription()


def test_a_failing_view_says_why(
    shop: MainWindow, bench: OutlookBench, settle: Settle, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(now_s: float) -> object:
        raise RuntimeError("x")

    monkeypatch.setattr(bench, "shop_view", fail)
    shop.open_pane("shop")
    settle(shop)
    assert "Can't tell" in shop.shop.response.rests_on.text()


def test_every_control_is_reached_by_tab(shop: MainWindow, qtbot: QtBot) -> None:
    shop.activateWindow()
    qtbot.waitUntil(shop.isActiveWindow)
    shop.shop.form.kind.box.setFocus()
    seen: set[QWidget] = set()
    for _ in range(60):
        focus = QApplication.focusWidget()
        assert focus is not None
        seen.add(focus)
        qtbot.keyClick(focus, Qt.Key.Key_Tab)
    form, forecast = shop.shop.form, shop.shop.forecast
    wanted = [form.volume.line, form.lat.line, form.lon.line, form.altitude.line, form.keep,
              forecast.switch, forecast.contact.line, forecast.type,
              *(r.use for r in forecast.rows if r.use.isVisible())]  # fmt: skip
    assert [w.accessibleName() for w in wanted if w not in seen] == []


# --- a forecast by hand --------------------------------------------------------------------


@pytest.fixture
def dialog(qtbot: QtBot, bench: OutlookBench) -> TypedForecastDialog:
    bench.load_demo(NOW_S)
    made = TypedForecastDialog(bench, NOW_S)
    qtbot.addWidget(made)
    made.show()
    return made


def test_two_days_by_hand(dialog: TypedForecastDialog, bench: OutlookBench, qtbot: QtBot) -> None:
    for field, typed in (
        (dialog.lows[0], "-2,5"), (dialog.highs[0], "9"), (dialog.lows[1], "1"),
        (dialog.highs[1], "11.5"), (dialog.dew, "−3"),
    ):  # fmt: skip
        write(field.line, typed)
    dialog.wind.choose("light")
    dialog.cloud.choose("overcast")
    click(qtbot, dialog.keep)
    (typed,) = bench.calls.typed
    assert (typed.lows_c, typed.highs_c) == ((-2.5, 1.0), (9.0, 11.5))  # type: ignore[attr-defined]
    assert (typed.dew_point_c, typed.rh_pct) == (-3.0, None)  # type: ignore[attr-defined]
    assert (typed.wind, typed.cloud) == ("light", "overcast")  # type: ignore[attr-defined]
    assert not dialog.isVisible()


def test_by_hand_in_fahrenheit_with_a_humidity(qtbot: QtBot, bench: OutlookBench) -> None:
    bench.load_demo(NOW_S)
    bench.settings.set("units", "us")
    dialog = TypedForecastDialog(bench, NOW_S)
    qtbot.addWidget(dialog)
    dialog.show()
    write(dialog.lows[0].line, "23")
    write(dialog.highs[0].line, "50")
    dialog.damp.choose("low")
    write(dialog.rh.line, "90")
    click(qtbot, dialog.keep)
    (typed,) = bench.calls.typed
    # 23 °F is exactly -5 °C, 50 °F 10 °C.
    assert typed.lows_c == pytest.approx((-5.0,), abs=1e-12)  # type: ignore[attr-defined]
    assert typed.highs_c == pytest.approx((10.0,), abs=1e-12)  # type: ignore[attr-defined]
    assert (typed.rh_pct, typed.rh_at) == (90.0, "low")  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("changes", "wrong"),
    [({"low": ""}, "low"), ({"high": "1"}, "high"), ({"dew": ""}, "dew"), ({"low": "x"}, "low"),
     ({"third": "4"}, "third")],
)  # fmt: skip
def test_by_hand_wrong(
    dialog: TypedForecastDialog,
    bench: OutlookBench,
    qtbot: QtBot,
    changes: dict[str, str],
    wrong: str,
) -> None:
    fields = {"low": dialog.lows[0], "high": dialog.highs[0], "dew": dialog.dew,
              "third": dialog.lows[2]}  # fmt: skip
    for name, typed in ({"low": "3", "high": "9", "dew": "1"} | changes).items():
        write(fields[name].line, typed)
    click(qtbot, dialog.keep)
    assert fields[wrong].error
    assert bench.calls.typed == []
    assert dialog.isVisible()


def test_by_hand_opens_from_the_pane(shop: MainWindow, qtbot: QtBot) -> None:
    click(qtbot, shop.shop.forecast.type)
    dialog = shop.findChild(TypedForecastDialog)
    assert dialog is not None
    qtbot.keyClick(dialog, Qt.Key.Key_Escape)
    assert not dialog.isVisible()
