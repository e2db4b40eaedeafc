"""Take the pictures of the README: the demo at a fixed clock, without a screen.

    python scripts/screenshots.py [FOLDER] [WIDTH HEIGHT]

writes into resources/screenshots, or into FOLDER. The pictures are the same on every run with
the same Qt and fonts.
"""

from __future__ import annotations

import os
import sys
import tempfile
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402
from PySide6.QtGui import QFont  # noqa: E402
from PySide6.QtWidgets import QApplication  # noqa: E402

from advisor.base.store import Store  # noqa: E402
from advisor.climate import reading_store  # noqa: E402
from advisor.climate.live.sensor import Sensor  # noqa: E402
from advisor.climate.readings import Origin  # noqa: E402
from advisor.record.entry import quantity  # noqa: E402
from advisor.ui.app import application, build  # noqa: E402
from advisor.ui.main_window import MainWindow  # noqa: E402
from advisor.ui.panes.record import RecordPane  # noqa: E402
from advisor.work.views import Reading  # noqa: E402
from advisor.work.workbench import Workbench  # noqa: E402

NOW_S = datetime(2031, 5, 14, 8, 10, tzinfo=UTC).timestamp()
MIN_S = 60.0
#: When the second pictures are taken: a coat is going on by then.
LATER_S = NOW_S + 66 * MIN_S
SHOTS = (
    ("before-you-mix-light", "before_mixing", "light", "metric"),
    ("before-you-mix-dark-us", "before_mixing", "dark", "us"),
    ("tonight", "tonight", "light", "metric"),
    ("coming-days-light", "coming_days", "light", "metric"),
    ("coming-days-dark", "coming_days", "dark", "metric"),
    ("shop", "shop", "light", "metric"),
    ("shop-dark-us", "shop", "dark", "us"),
)
#: With a batch live; after colons a view of the pane, and a coat.
LIVE_SHOTS = (
    ("at-the-bench", "batch", "light", "metric"),
    ("at-the-bench-dark-us", "batch", "dark", "us"),
    ("readings-dark", "readings", "dark", "metric"),
    ("record", "record", "light", "metric"),
    ("inside-the-limits-dark", "record:coats:port-undercoat", "dark", "metric"),
)
COAT, AREA, CREW = "port-gloss-2", "port", "A. Crew"
#: Lot number and use-by of base and hardener, and the temperature of the tins, °C.
LOTS, TINS_C = (("G 4411", "2032-03"), ("H 207", "2031-11")), "17.5"
#: How long and how often the logger read, and how fast each column rises since NOW_S, an hour.
LOGGED_S, STEP_S = 30 * 3600.0, 300.0
RISES = MappingProxyType({"air_temp_c": 0.7, "rh_pct": -2.0, "surface_temp_c": 0.4})
#: What is done: minutes after NOW_S, what, and with what.
DONE = (
    (2, "read", ("12.0", "65", "11.8")),
    (4, "mix", ()),
    (24, "read", ("12.4", "64", "13.0")),
    (25, "correct", ("12.0", "read before the probe had settled")),
    (26, "start", ("bow, sheer to waterline",)),
    (38, "patch", ("midships",)),
    (40, "film", ("75", "80", "78")),
    (50, "patch", ("quarter",)),
    (52, "film", ("72", "77")),
)


def settle(app: QApplication, window: MainWindow) -> None:
    """Let the worker answer and the page be laid out."""
    import time

    end = time.monotonic() + 60
    quiet = 0
    while quiet < 8 and time.monotonic() < end:
        app.processEvents()
        time.sleep(0.05)
        desk = window.desk
        workers = (desk.operations, desk.slow, desk.pages, desk.watch.operations)
        busy = any(not one.idle() for one in workers) or window.before_mixing.waiting
        quiet = 0 if busy else quiet + 1


def shoot(folder: Path, size: tuple[int, int]) -> None:
    """Take all pictures of one size into a folder."""
    app = application(["screenshots"], ROOT / "resources")
    app.setFont(QFont("DejaVu Sans"))
    with tempfile.TemporaryDirectory() as place, Store(Path(place) / "shop.sqlite3") as store:
        bench = Workbench(store, ROOT / "resources")
        bench.load_demo(NOW_S)
        bench.keep_demo_record(NOW_S)
        take(app, bench, NOW_S, SHOTS, folder, size)
        put_a_coat_on(bench)
        follow_a_logger(bench, Path(place) / "keel.csv")
        take(app, Workbench(store, ROOT / "resources"), LATER_S, LIVE_SHOTS, folder, size)


def take(
    app: QApplication,
    bench: Workbench,
    now_s: float,
    shots: tuple[tuple[str, str, str, str], ...],
    folder: Path,
    size: tuple[int, int],
) -> None:
    """Open the window at a moment and take some pictures of it."""
    window = build(bench, lambda: now_s)
    window.resize(*size)
    window.show()
    window.start()
    for name, pane, theme, units in shots:
        key, *view = pane.split(":")
        window.desk.look.set_theme(theme)
        window.desk.set_units("us" if units == "us" else "metric")
        window.open_pane(key)
        settle(app, window)
        if view:
            record = window.late.pane(key)
            assert isinstance(record, RecordPane)
            record.open_view(view[0])
            settle(app, window)
            record.coats.choose(view[1])
            settle(app, window)
        window.desk.messages.hide()  # such as a computer that cannot be kept awake
        app.processEvents()
        window.grab().save(str(folder / f"{name}.png"))
    window.close()


# --- a batch at the bench, a logger by the keel ----------------------------------------------


def put_a_coat_on(bench: Workbench) -> None:
    """Mix a batch and lay half of a coat, as it would be tapped."""
    bench.settings.set("person", CREW)
    for minutes, what, told in DONE:
        do(bench, NOW_S + minutes * MIN_S, what, told)
    for alarm in bench.live.view(LATER_S).alarms:
        bench.live.heard(alarm.key, LATER_S)  # the pictures make no noise


def do(bench: Workbench, now_s: float, what: str, told: tuple[str, ...]) -> None:
    """Do one thing at the bench."""
    if what == "read":
        bench.type_reading(Reading(now_s, *map(float, told)), now_s, AREA)
    elif what == "correct":
        right, why = told
        number = bench.record.head().entries
        bench.record.correct(number, {"surface_temp": quantity(right, "°C", "typed")}, why, now_s)
    elif what == "film":
        bench.live.film(COAT, told, now_s)
    elif what == "mix":
        form = bench.live.batch_form(COAT, now_s)
        tins = [replace(part, batch=lot, expiry=until)
                for part, (lot, until) in zip(form.parts, LOTS, strict=False)]  # fmt: skip
        parts = (*tins, *form.parts[len(tins) :])
        bench.live.start_batch(replace(form, parts=parts, mix_temp_c=TINS_C), now_s)
    else:
        bench.live.tap(what, now_s, patch=told[0], coat_id=COAT)


def follow_a_logger(bench: Workbench, log: Path) -> None:
    """Set up a sensor that read what the demo's own log has, and a little more since."""
    times = np.arange(LATER_S - LOGGED_S, LATER_S, STEP_S)
    known = reading_store.load(bench.store, int(times[0]), int(NOW_S), bench.readings_area,
                               (Origin.IMPORTED,))  # fmt: skip
    since_h = np.maximum(0.0, times - NOW_S) / 3600
    columns = [np.interp(times, known.time_s, known.column(name)) + since_h * rise
               for name, rise in RISES.items()]  # fmt: skip
    lines = [",".join(("time", *RISES))]
    for k, at_s in enumerate(times.tolist()):
        row = ",".join(f"{column[k]:.1f}" for column in columns)
        lines.append(f"{datetime.fromtimestamp(at_s, UTC):%Y-%m-%dT%H:%MZ},{row}")
    log.write_text("\n".join(lines) + "\n", encoding="utf-8")
    bench.sensors.save(Sensor("keel", "by the keel", "file", path=str(log), step_s=STEP_S,
                              time_zone="UTC"))  # fmt: skip
    bench.sensors.start(lambda: LATER_S)
    bench.sensors.poll(LATER_S)
    bench.sensors.stop()


def main(argv: list[str]) -> int:
    """Take the pictures."""
    folder = Path(argv[0]) if argv else ROOT / "resources" / "screenshots"
    folder.mkdir(parents=True, exist_ok=True)
    shoot(folder, (int(argv[1]), int(argv[2])) if len(argv) > 2 else (1280, 800))
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
