"""What a live bench costs a laptop: processor time with a countdown in sight and a sensor at 1 Hz.

    .venv/bin/python scripts/battery.py             10 minutes
    .venv/bin/python scripts/battery.py 60          a minute

Asked: under 2 % of one core. The demo's next coat is mixed and put on for real, in a database that
is thrown away; another process appends a line a second to a log that the window follows. What
starting costs is left out. 1 when more is used than asked.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

ROOT = Path(__file__).resolve().parents[1]
ASKED_PCT = 2.0
WHOLE_S, SETTLE_S = 600.0, 20.0
LOGGER = """
import sys, time
from datetime import datetime, timezone
path, k = sys.argv[1], 0
while True:
    with open(path, "a", encoding="utf-8") as log:
        if not k:
            log.write("time,air temperature C,humidity %,surface temperature C\\n")
        now = datetime.now(timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")
        log.write(f"{now},{12 + k % 7 / 10:.1f},{60 + k % 5},{11.8 + k % 3 / 10:.1f}\\n")
    k += 1
    time.sleep(1)
"""

if TYPE_CHECKING:
    from advisor.ui.main_window import MainWindow
    from advisor.work.workbench import Workbench


def live_bench(bench: Workbench, log: Path) -> None:
    """Mix a batch for the demo's next coat, put a patch on, and set the sensor up."""
    from advisor.climate.live.sensor import Sensor

    now_s = time.time()
    coat = bench.load_demo(now_s).next_coats()[0]
    form = bench.live.batch_form(coat.id, now_s)
    parts = tuple(replace(part, amount=part.amount or "0.5") for part in form.parts)
    bench.live.start_batch(replace(form, parts=parts), now_s)
    bench.live.tap("start", now_s, coat_id=coat.id)
    bench.sensors.save(Sensor("logger", "Logger", "file", path=str(log), step_s=1.0))


def run_for(seconds: float) -> float:
    """Let the window live; return the processor seconds it used."""
    from PySide6.QtCore import QEventLoop, QTimer

    loop, before = QEventLoop(), time.process_time()
    QTimer.singleShot(int(seconds * 1000), loop.quit)  # quitting the application closes windows
    loop.exec()
    return time.process_time() - before


def hear_all(window: MainWindow) -> None:
    """Say of everything due that it was heard: an alarm that sounds is another matter."""
    view = window.desk.watch.view
    for alarm in view.alarms if view else ():
        window.desk.watch.heard(alarm.key)


def measure(folder: Path, seconds: float) -> tuple[float, int]:
    """Return processor seconds used in that time, and the sensor's rows kept."""
    from advisor.base.store import Store
    from advisor.ui.app import application, build
    from advisor.ui.constants_kept import keep_constants
    from advisor.work.workbench import Workbench

    keep_constants()
    application(["battery"], ROOT / "resources")
    log = folder / "log.csv"
    logger = subprocess.Popen([sys.executable, "-c", LOGGER, str(log)])
    try:
        with Store(folder / "shop.sqlite3") as store:
            bench = Workbench(store, ROOT / "resources")
            bench.settings.set("alarm_sound", False)
            live_bench(bench, log)
            window = build(bench, time.time)
            window.resize(1280, 800)
            window.show()
            window.start()
            window.open_pane("batch")
            window.desk.watch.viewed.connect(lambda _: hear_all(window))
            run_for(SETTLE_S)
            before = window.desk.watch.view
            used = run_for(seconds)
            counting = window.late.pane("batch").going.countdown.ticks.ticking
            if before is None or not before.batches or not counting:
                raise SystemExit("no countdown was in sight: nothing was measured")
            with store.read() as db:
                (rows,) = db.execute("SELECT count(*) FROM sensor_row").fetchone()
            window.close()
    finally:
        logger.kill()
        logger.wait()
    return used, rows


def main(arguments: list[str]) -> int:
    """Measure and tell."""
    seconds = float(arguments[0]) if arguments else WHOLE_S
    if not os.environ.get("DISPLAY") and sys.platform.startswith("linux"):
        os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory() as folder:
        used, rows = measure(Path(folder), seconds)
    share = 100 * used / seconds
    kept = share < ASKED_PCT
    print(f"{used:.2f} s of processor time in {seconds:.0f} s: {share:.2f} % of one core, "
          f"asked under {ASKED_PCT:g} %; {rows} values of the sensor kept "
          f"({'kept' if kept else 'MISSED'})")  # fmt: skip
    return 0 if kept else 1


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    sys.exit(main(sys.argv[1:]))
