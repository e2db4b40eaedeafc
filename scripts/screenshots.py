"""Take the pictures of the README: the demo at a fixed clock, without a screen.

    python scripts/screenshots.py [FOLDER]

writes into resources/screenshots, or into FOLDER. The pictures are the same on every run with
the same Qt and fonts.
"""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from PySide6.QtGui import QFont  # noqa: E402
from PySide6.QtWidgets import QApplication  # noqa: E402

from advisor.base.store import Store  # noqa: E402
from advisor.ui.app import application, build  # noqa: E402
from advisor.ui.main_window import MainWindow  # noqa: E402
from advisor.work.workbench import Workbench  # noqa: E402

NOW_S = datetime(2031, 5, 14, 8, 10, tzinfo=UTC).timestamp()
SHOTS = (
    ("before-you-mix-light", "before_mixing", "light", "metric"),
    ("before-you-mix-dark-us", "before_mixing", "dark", "us"),
    ("tonight", "tonight", "light", "metric"),
    ("coming-days-light", "coming_days", "light", "metric"),
    ("coming-days-dark", "coming_days", "dark", "metric"),
    ("shop", "shop", "light", "metric"),
    ("shop-dark-us", "shop", "dark", "us"),
)


def settle(app: QApplication, window: MainWindow) -> None:
    """Let the worker answer and the page be laid out."""
    import time

    end = time.monotonic() + 60
    quiet = 0
    while quiet < 5 and time.monotonic() < end:
        app.processEvents()
        time.sleep(0.05)
        desk = window.desk
        busy = not desk.operations.idle() or not desk.slow.idle() or window.before_mixing.waiting
        quiet = 0 if busy else quiet + 1


def shoot(folder: Path, size: tuple[int, int], prepare: Callable[[MainWindow], None]) -> None:
    """Take all pictures of one size into a folder."""
    app = application(["screenshots"], ROOT / "resources")
    app.setFont(QFont("DejaVu Sans"))
    with tempfile.TemporaryDirectory() as place, Store(Path(place) / "shop.sqlite3") as store:
        bench = Workbench(store, ROOT / "resources")
        prepare_demo(bench)
        window = build(bench, lambda: NOW_S)
        window.resize(*size)
        window.show()
        window.start()
        prepare(window)
        for name, pane, theme, units in SHOTS:
            window.desk.look.set_theme(theme)
            window.desk.set_units("us" if units == "us" else "metric")
            window.open_pane(pane)
            settle(app, window)
            window.grab().save(str(folder / f"{name}.png"))
        window.close()


def prepare_demo(bench: Workbench) -> None:
    """Set the demo up as it stands at the fixed clock."""
    bench.load_demo(NOW_S)


def main(argv: list[str]) -> int:
    """Take the pictures."""
    folder = Path(argv[0]) if argv else ROOT / "resources" / "screenshots"
    folder.mkdir(parents=True, exist_ok=True)
    size = (int(argv[1]), int(argv[2])) if len(argv) > 2 else (1280, 800)
    shoot(folder, size, lambda window: None)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
