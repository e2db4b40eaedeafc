"""Measure the budgets and print them as a table with ratios; never part of the tests.

    .venv/bin/python scripts/bench.py             everything
    .venv/bin/python scripts/bench.py W2 W7       some of it

Each figure is the median of several runs, beside a reference measured in the same run, because a
ratio means the same on a slow machine and a fast one.
"""

from __future__ import annotations

import itertools
import math
import os
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
HOUR_S = 3600
#: A Wednesday in May, UTC; any whole multiple of five minutes would do.
START_S = 1_779_840_000


@dataclass(frozen=True)
class Row:
    """One line of the table: what was measured, against what, and what is asked."""

    name: str
    measured_ms: float
    reference_ms: float
    asked_ratio: float
    what: str
    asked_ms: float = math.inf

    @property
    def ratio(self) -> float:
        """How many times the reference."""
        return self.measured_ms / self.reference_ms

    @property
    def kept(self) -> bool:
        """Whether the budget is kept."""
        return self.ratio <= self.asked_ratio and self.measured_ms <= self.asked_ms


def median_ms(work: Callable[[], object], runs: int = 9) -> float:
    """Median time of a call in ms, after one call to warm up."""
    work()
    times = []
    for _ in range(runs):
        begin = time.perf_counter()
        work()
        times.append((time.perf_counter() - begin) * 1000)
    return statistics.median(times)


# --- start-up -----------------------------------------------------------------------------

#: Put before any program with a window: tells when the window is on the screen, and when the
#: first verdict is, then ends the program. Works from outside, so that the program carries
#: nothing for the bench.
WATCH = """
import sys, time
from PySide6.QtWidgets import QApplication

def shown():
    return any(w.isVisible() and w.windowHandle() and w.windowHandle().isExposed()
               for w in QApplication.topLevelWidgets())

def judged():
    marks = [w for w in QApplication.allWidgets() if type(w).__name__ == "VerdictMark"]
    return "metpy.calc" in sys.modules and any(m.kind != "working" for m in marks)

def until(test, limit_s=60.0):
    end = time.monotonic() + limit_s
    while not test() and time.monotonic() < end:
        QApplication.processEvents()
        time.sleep(0.001)
    QApplication.processEvents()
    return time.time() if test() else float("nan")

def watch(*_):
    first = until(shown)
    late = [n for n in ("metpy", "pandas", "scipy", "requests_cache") if n in sys.modules]
    verdict = until(judged) if "--verdict" in WANTED else float("nan")
    print("BENCH", first, verdict, ",".join(late) or "-", flush=True)
    import os
    os._exit(0)

QApplication.exec = staticmethod(watch)
"""
EMPTY = """
import pyqtgraph
app = QApplication([])
window = pyqtgraph.PlotWidget()
window.show()
app.exec()
"""
PROGRAM = """
import runpy
sys.argv = ["advisor", "--demo", "--database", DATABASE]
runpy.run_module("advisor", run_name="__main__")
"""


@dataclass(frozen=True)
class Launch:
    """Times in ms from starting the process; `early` lists what was imported too soon."""

    window_ms: float
    verdict_ms: float
    early: str


def launch(code: str, wanted: tuple[str, ...] = ()) -> Launch:
    """Start a fresh process and wait for its window."""
    with tempfile.TemporaryDirectory() as folder:
        head = f"WANTED = {wanted!r}\nDATABASE = {str(Path(folder, 'bench.sqlite3'))!r}\n"
        screen = {} if os.environ.get("DISPLAY") else {"QT_QPA_PLATFORM": "offscreen"}
        # So that the program does not take the missing display for a reason to print text.
        screen |= {"DISPLAY": os.environ.get("DISPLAY", ":none")}
        begin = time.time()
        done = subprocess.run(
            [sys.executable, "-c", head + WATCH + code],
            cwd=ROOT, env={**os.environ, **screen}, capture_output=True, text=True, check=False,
        )  # fmt: skip
    lines = [line.split() for line in done.stdout.splitlines() if line.startswith("BENCH ")]
    if not lines:
        raise SystemExit(f"no window came up:\n{done.stdout}{done.stderr}")
    _, window, verdict, early = lines[-1]
    return Launch((float(window) - begin) * 1000, (float(verdict) - begin) * 1000, early)


def empty_window_ms(runs: int = 5) -> float:
    """Median start of an empty window with a plot in it."""
    return statistics.median(launch(EMPTY).window_ms for _ in range(runs))


def w1a() -> list[Row]:
    """Start to a window one can type in, as a whole process."""
    found = [launch(PROGRAM) for _ in range(5)]
    early = sorted({one.early for one in found} - {"-"})
    what = "start to window / empty window" + (f" (too early: {early})" if early else "")
    return [Row("W1a", statistics.median(f.window_ms for f in found), empty_window_ms(), 1.5, what)]


def w1b() -> list[Row]:
    """Start to the first verdict, as a whole process."""
    found = [launch(PROGRAM, ("--verdict",)).verdict_ms for _ in range(5)]
    code = "import time, metpy.calc; print(time.time())"
    imports = []
    for _ in range(5):
        begin = time.time()
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True)
        imports.append((float(done.stdout) - begin) * 1000)
    reference = empty_window_ms() + statistics.median(imports)
    what = "start to first verdict / empty window + bare import of MetPy"
    return [Row("W1b", statistics.median(found), reference, 1.5, what)]


# --- windows ------------------------------------------------------------------------------


def week(days: int):
    """Make an invented spring: cool nights, dry afternoons, a surface that lags behind."""
    import numpy as np

    from advisor.climate.series import Series
    from advisor.physics.surfaces import first_order_lag

    hours = np.arange(days * 288) / 12
    daily = np.cos((hours - 15) * (math.pi / 12))
    air = 13 + 5 * daily + 2 * np.sin(hours / 37)
    dew = 7 + 1.5 * np.sin(hours / 29)
    return Series(START_S, air, dew, first_order_lag(air, 1 / 12, 3.0))


def coats(count: int):
    """Return coats over one another, by the templates: filler, primers, undercoat, gloss."""
    from advisor.coatings.shelf import library, templates_dir
    from advisor.planning.case import Case, Previous

    shelf = library(templates_dir())
    names = ("epoxy-barrier", "epoxy-undercoat", "epoxy-undercoat", "two-part-gloss") * count
    products = [shelf[f"typical-{name}"] for name in names[:count]]
    laid = START_S + 8 * HOUR_S
    found = [Case(products[0], 2.0, certain=True)]
    for below, product in itertools.pairwise(products):
        found.append(Case(product, 2.0, Previous(below, laid, laid + 2 * HOUR_S), certain=True))
    return found


def our_windows(series, cases) -> int:
    """Judge every five-minute start of every coat and join the windows."""
    from dataclasses import replace

    from advisor.planning.verdict import judge
    from advisor.planning.windows import windows

    fresh = replace(series)  # a dragged slider brings a new series: nothing remembered
    return sum(len(windows(judge(case, fresh))) for case in cases)


def sketch_windows(series, cases) -> int:
    """Do the same as bare arrays: clocks, interval tests by running sums, runs."""
    import numpy as np

    air, dew, surface = series.air_temp_c, series.dew_point_c, series.surface_temp_c
    starts = np.arange(len(air))
    rh = 100 * np.exp(17.62 * dew / (243.12 + dew) - 17.62 * air / (243.12 + air))
    ice = np.where(dew < 0, dew * 0.89, dew)
    margin = surface - np.maximum(dew, ice)
    hottest = np.maximum.accumulate(surface)

    def hours(rows, temp_c, at_c):
        filled = np.nan_to_num(np.array(rows, float), nan=1.0, posinf=1e6)
        x = -1 / (np.array(temp_c) + 273.15)
        return np.exp(np.interp(-1 / (at_c + 273.15), x, np.log(np.maximum(filled, 1e-8))))

    def clock(tau):
        rate = 1 / tau
        return np.concatenate(([0], np.cumsum((rate[1:] + rate[:-1]) / 24)))

    def event(total, since):
        target = np.interp(since, starts, total) + 1
        after = np.clip(np.searchsorted(total, target), 1, len(total) - 1)
        step = np.maximum(total[after] - total[after - 1], 1e-12)
        return after - 1 + (target - total[after - 1]) / step

    def any_inside(bad, since, until):
        total = np.concatenate(([0], np.cumsum(bad)))
        first = np.clip(np.ceil(since).astype(int), 0, len(bad) - 1)
        return total[np.clip(np.floor(until).astype(int) + 1, 0, len(bad))] > total[first]

    found = 0
    for case in cases:
        temp_c, rows, limits = *sheet(case.product), case.product.limits
        mix = np.maximum(air, 20.0)
        begin = starts + hours(rows["induction_h"], temp_c, mix) * 12
        used = hours(rows["induction_h"], temp_c, mix) / hours(rows["pot_life_h"], temp_c, mix)
        end = np.minimum(begin + case.apply_h * 12, len(air) - 1)
        dry = event(clock(hours(rows["tack_free_h"], temp_c, surface)), end)
        dew_free = np.maximum(event(clock(hours(rows["last_h"], temp_c, surface)), end), dry)
        low, high = limits.surface_temp_c or (-99, 99)
        broken = np.zeros(len(air), bool)
        for bad, since, until in (
            (air < low, starts, end), (air > high, starts, end), (surface < low, starts, dry),
            (surface > high, starts, end), (surface < temp_c[0], starts, end),
            (surface > temp_c[-1], starts, end), (mix < temp_c[0], starts, end),
            (mix > temp_c[-1], starts, end), (used > 1, starts, end), (rh > 85, starts, dry),
            (margin < limits.margin_k, starts, dry), (margin < limits.hold_margin_k, dry, dew_free),
        ):  # fmt: skip
            broken |= any_inside(bad, since, until)
        if case.previous is not None and case.next_row is not None:
            below = case.previous.product.times.temp_c
            for painted, reached in ((96.0, begin), (120.0, end)):
                total = clock(hours(case.next_row.min_h, below, surface))
                broken |= reached < event(total, np.array([painted]))
                if case.next_row.max_h:
                    allowed = hours(case.next_row.max_h, below, hottest)
                    used = np.interp(reached, starts, clock(allowed))
                    late = (reached - painted) / 12 > np.interp(reached, starts, allowed)
                    broken |= late & (used > np.interp(painted, starts, clock(allowed)) + 1)
        found += int(np.count_nonzero(np.diff(broken))) + 1
    return found


def sheet(product):
    """Return rows and columns of a product for the sketch, the ones it lacks filled in."""
    columns = product.times.columns
    none = (0.01,) * len(product.times.temp_c)
    names = ("induction_h", "pot_life_h", "tack_free_h")
    rows = {name: columns.get(name, none) for name in names}
    rows["last_h"] = columns.get("tape_dry_h", rows["tack_free_h"])
    return product.times.temp_c, rows


def w2() -> list[Row]:
    """Time windows for 8 coats over 7 days, every five minutes, central values."""
    series, cases = week(7), coats(8)
    ours = median_ms(lambda: our_windows(series, cases), 25)
    bare = median_ms(lambda: sketch_windows(series, cases), 25)
    what = "windows, 8 coats, 7 days / bare NumPy sketch"
    return [Row("W2", ours, bare, 2.0, what, asked_ms=10.0)]


def outlook(series, count: int):
    """Make courses that leave the central week further and further, and its last day as past."""
    import numpy as np

    from advisor.climate.scenarios import Scenarios

    rng = np.random.default_rng(1)
    past, n = 96, 7 * 96
    air, dew, surface = (
        column[::3][past : past + n]
        for column in (series.air_temp_c, series.dew_point_c, series.surface_temp_c)
    )
    warmer, damper = (np.cumsum(rng.normal(0, sd, (count, n)), axis=1) for sd in (0.15, 0.1))
    air = air + warmer
    start_s = series.start_s + past * 900
    return Scenarios(start_s, 900, air, np.minimum(dew + damper, air), surface + 0.8 * warmer)


def our_chances(series, cases, scenarios, starts_s) -> int:
    """Lay the courses and find the chance of every five-minute start of every coat."""
    from dataclasses import replace

    from advisor.planning.chance import chances_of_all
    from advisor.planning.courses import lay

    courses = lay(scenarios, replace(series))
    return sum(len(found.holds) for found in chances_of_all(cases, courses, starts_s))


def in_thread(work: Callable[[], object]) -> None:
    """Run off the main thread, as the window does."""
    thread = threading.Thread(target=work)
    thread.start()
    thread.join()


def w3() -> list[Row]:
    """Time the chances of 8 coats over 7 days in 200 courses, all starts, central values apart."""
    import numpy as np

    from advisor.planning.verdict import judge

    series, cases = week(8), [replace_certain(case) for case in coats(8)]
    scenarios = outlook(series, 200)
    starts = np.arange(288, 288 + 7 * 288)
    starts_s = series.time_s[starts]
    begin = time.process_time()
    our_chances(series, cases, scenarios, starts_s)
    cpu_ms = (time.process_time() - begin) * 1000
    ours = median_ms(lambda: in_thread(lambda: our_chances(series, cases, scenarios, starts_s)))
    central = median_ms(lambda: [judge(case, series, starts) for case in cases])
    what = f"chances, 8 coats, 7 days, 200 courses / central values ({cpu_ms:.0f} ms of CPU)"
    return [Row("W3", ours, central, math.inf, what, asked_ms=400.0)]


def replace_certain(case):
    """Take the same coat with its spread on."""
    from dataclasses import replace

    return replace(case, certain=False)


#: What a hand at a lever waits for: a picture in 1/30 s, the chances half a second after the
#: last move, of which the window lets 120 ms go by.
FRAME_MS, CHANCES_MS = 1000.0 / 30.0, 500.0 - 120.0


def drag() -> list[Row]:
    """Time a what-if of the demo: one picture while a lever moves, and the chances after it."""
    from advisor.base.paths import resources_dir
    from advisor.base.store import Store
    from advisor.climate.shop.shop import Change
    from advisor.ui.plots.picture import week_picture
    from advisor.work.workbench import Workbench

    with tempfile.TemporaryDirectory() as folder, Store(Path(folder, "bench.sqlite3")) as store:
        bench = Workbench(store, resources_dir())
        bench.load_demo(START_S)
        at = bench.prepare_what_if(START_S)
        powers = itertools.cycle(k / 2 for k in range(1, 17))

        def moved():
            return bench.what_if(at, Change(heater_kw=next(powers)))

        answer = moved()
        picture, was = week_picture(answer.week), week_picture(at.setting.now)
        drawn = painting_ms(bench, picture, was)
        worked = median_ms(lambda: week_picture(moved().week), 25)
        chances = median_ms(
            lambda: in_thread(lambda: bench.what_if_chances(at, Change(heater_kw=next(powers))))
        )
    what = f"a lever moved: the week worked out and drawn ({drawn:.0f} ms) / worked out"
    return [
        Row("DRAG", worked + drawn, worked, math.inf, what, asked_ms=FRAME_MS),
        Row("DRAG", chances, worked, math.inf, "its chances / central values", asked_ms=CHANCES_MS),
    ]


def painting_ms(bench, picture, was) -> float:
    """Time the picture of the week to be put up and drawn, at the window's first size."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from PySide6.QtWidgets import QApplication

    from advisor.ui.plots.week import WeekView
    from advisor.ui.theme import Look

    app = QApplication.instance() or QApplication([])
    view = WeekView(Look("light", 100))
    view.resize(1200, 330)
    view.show()
    app.processEvents()
    zone = bench.words(START_S).zone

    def put_up() -> None:
        view.show_what_if("2.0 kW electric heater", was)
        view.show_week(picture, zone, "metric")
        view.repaint()

    return median_ms(put_up, 25)


def w7() -> list[Row]:
    """Growth with the horizon and with the number of coats."""

    def timed(days: int, count: int) -> float:
        series, cases = week(days), coats(count)
        return median_ms(lambda: our_windows(series, cases), 15)

    base, days, many = timed(7, 8), timed(28, 8), timed(7, 32)
    return [
        Row("W7", days, base, 4.5, "windows, 4 times the days / once"),
        Row("W7", many, base, 4.5, "windows, 4 times the coats / once"),
    ]


# --- import -------------------------------------------------------------------------------


def write_log(path: Path, rows: int) -> None:
    """Write a log of a reading a minute."""
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write("time,air_temp_c,rh_pct,surface_temp_c\n")
        for n in range(rows):
            stamp = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(START_S + 60 * n))
            angle = n * (2 * math.pi / 1440)
            air, rh = 13 + 5 * math.cos(angle), 70 - 15 * math.cos(angle + n / 9e4)
            file.write(f"{stamp},{air:.2f},{rh:.1f},{air - 1:.2f}\n")


def our_import(path: Path, database: Path) -> int:
    """Read, flag and store a log."""
    from advisor.base.store import Store
    from advisor.climate.conditions_file import read_conditions
    from advisor.climate.reading_store import save_import

    with Store(database) as store:
        return save_import(store, read_conditions(path), path.name, START_S)


def bare_import(path: Path, database: Path) -> None:
    """Do what pandas and SQLite do at the least."""
    import sqlite3

    import pandas

    frame = pandas.read_csv(path, parse_dates=["time"])
    seconds = frame.pop("time").dt.tz_convert(None).astype("datetime64[s]").astype("int64")
    rows = list(zip(seconds.tolist(), *(frame[c].tolist() for c in frame), strict=True))
    with closing(sqlite3.connect(database)) as db, db:
        db.execute("CREATE TABLE r (t INTEGER PRIMARY KEY, a REAL, h REAL, s REAL)")
        db.executemany("INSERT INTO r VALUES (?, ?, ?, ?)", rows)


def w5(rows: int = 525_600) -> list[Row]:
    """Import a year of minutes, parsed, flagged and stored."""
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder, "log.csv")
        write_log(log, rows)
        names = iter(Path(folder, f"{n}.sqlite3") for n in range(99))
        ours = median_ms(lambda: our_import(log, next(names)), 3)
        bare = median_ms(lambda: bare_import(log, next(names)), 3)
    return [Row("W5", ours, bare, 2.0, f"import of {rows} rows / pandas.read_csv + executemany")]


def w6() -> list[Row]:
    """Look at five million readings: the first picture, and a frame while it is moved."""
    import bench_readings

    found = bench_readings.measure()
    first = "first picture of 5 million readings / one SQL count of them"
    frame = f"a frame while moving (slowest {found.worst_frame_ms:.0f} ms) / the same count"
    return [
        Row("W6", found.picture_ms, found.reference_ms, math.inf, first, bench_readings.PICTURE_MS),
        Row("W6", found.frame_ms, found.reference_ms, math.inf, frame, bench_readings.FRAME_MS),
    ]


BUDGETS = (
    ("W1a", w1a), ("W1b", w1b), ("W2", w2), ("W3", w3), ("W5", w5), ("W6", w6),
    ("W7", w7), ("DRAG", drag),
)  # fmt: skip


def show(row: Row) -> None:
    """Print one line."""
    parts = [(row.asked_ratio, "x"), (row.asked_ms, "ms")]
    asked = ", ".join(f"{value:g} {unit}" for value, unit in parts if math.isfinite(value))
    figures = f"{row.measured_ms:9.1f} {row.reference_ms:9.1f} {row.ratio:6.2f}"
    print(f"{row.name:4} {figures}  {asked:12} {'kept' if row.kept else 'MISSED':7} {row.what}")


def main(names: list[str]) -> int:
    """Measure the named budgets, or all; 1 when one is missed."""
    known = dict(BUDGETS)
    unknown = [name for name in names if name not in known]
    if unknown:
        print(f"no budget is called {unknown[0]}; accepted: {', '.join(known)}", file=sys.stderr)
        return 2
    print(f"{'':4} {'ms':>9} {'reference':>9} {'ratio':>6}  asked")
    kept = True
    for name, measure in BUDGETS:
        for row in measure() if not names or name in names else []:
            show(row)
            kept = kept and row.kept
    return 0 if kept else 1


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    sys.exit(main(sys.argv[1:]))
