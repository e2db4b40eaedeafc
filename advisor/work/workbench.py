"""One shop's workbench: its job, products and readings, and the answers made from them."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType
from zoneinfo import ZoneInfo

import numpy as np

from advisor.base.errors import InputError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.base.toml_file import read_toml_text
from advisor.base.units import Units
from advisor.climate import reading_store
from advisor.climate.conditions_file import read_conditions
from advisor.climate.reading_store import LatestValue, TypedReading
from advisor.climate.readings import ImportedFile, Origin, ReadingTable
from advisor.climate.series import Series
from advisor.coatings.library import library
from advisor.coatings.product import Product
from advisor.coatings.product_file import parse_product
from advisor.planning.job import Coat, Job, Laid
from advisor.planning.job_file import job_to_toml, parse_job, read_job
from advisor.planning.words import Words
from advisor.work import days, films, mixing
from advisor.work.shop_air import DAY_S, shop_series
from advisor.work.views import BeforeMixing, ComingDays, FilmTonight, Lane, Reading, StartDetail

#: Everything but what was typed: a typed reading pulls the series instead of making a spike.
LAID_OUT = (Origin.MEASURED, Origin.IMPORTED, Origin.FORECAST, Origin.ESTIMATED)
NEEDED = ("air_temp_c", "rh_pct", "surface_temp_c")
NAMES = MappingProxyType(
    {"air_temp_c": "air temperature", "rh_pct": "humidity", "surface_temp_c": "coldest spot"}
)


class Workbench:
    """What the window and the command line call. `resources` holds templates and the demo."""

    def __init__(self, store: Store, resources: Path) -> None:
        self.store = store
        self.resources = resources
        self.settings = Settings(store)

    # --- job -----------------------------------------------------------------------------

    def job(self) -> Job | None:
        """Return the job in hand, None on a first start."""
        wanted = self.settings.text("last_job")
        with self.store.read() as db:
            row = db.execute("SELECT toml FROM job WHERE id = ?", (wanted,)).fetchone()
        return None if row is None else parse_job(row[0], f"job {wanted}")

    def save_job(self, job: Job) -> None:
        """Keep a job and make it the one in hand."""
        with self.store.write() as db:
            db.execute("INSERT INTO job (id, toml) VALUES (?, ?) "
                "ON CONFLICT (id) DO UPDATE SET toml = excluded.toml",
                       (job.id, job_to_toml(job)))  # fmt: skip
        self.settings.set("last_job", job.id)

    def open_job_file(self, path: Path, now_s: float) -> Job:
        """Read a job file and keep it; FileFormatError when it cannot be used."""
        job = read_job(path)
        self.save_job(job)
        return job

    def save_job_file(self, path: Path) -> None:
        """Write the job in hand to a file."""
        path.write_text(job_to_toml(self._job()), encoding="utf-8")

    def lay_coat(self, coat_id: str, start_s: float, end_s: float) -> None:
        """Note that a coat went on, from its first to its last patch."""
        if end_s < start_s:
            raise InputError("the last patch: found a time before the first; accepted: after it")
        job = self._job()
        self.save_job(job.with_coat(replace(job.coat(coat_id), laid=Laid(start_s, end_s))))
        self._event(job.id, coat_id, "applied", start_s, {"end_s": end_s})

    def log_dried(self, at_s: float, area_id: str) -> None:
        """Note that the surface was dried and wiped."""
        self._event(self._job().id, "", "dried", at_s, {"area": area_id})

    def log_sanded(self, at_s: float, area_id: str) -> None:
        """Note that the area was sanded and wiped: the bond of the coat below is renewed."""
        self._event(self._job().id, "", "sanded", at_s, {"area": area_id})
        self.log_dried(at_s, area_id)

    def load_demo(self, now_s: float) -> Job:
        """Set up the invented demo job, moved to start today."""
        from advisor.work.demo import load_demo

        return load_demo(self, now_s)

    # --- products ------------------------------------------------------------------------

    def products(self) -> dict[str, Product]:
        """Return templates and the user's own, by id."""
        found = library(self.resources / "products")
        with self.store.read() as db:
            rows = db.execute("SELECT id, toml FROM product").fetchall()
        return found | {key: parse_product(toml, f"{key}.toml") for key, toml in rows}

    def add_product_file(self, path: Path) -> Product:
        """Read a product file and keep it; FileFormatError when it cannot be used."""
        text = read_toml_text(path, "product")
        product = parse_product(text, path.name)
        with self.store.write() as db:
            db.execute("INSERT OR REPLACE INTO product (id, toml) VALUES (?, ?)",
                       (product.id, text))  # fmt: skip
        return product

    # --- readings ------------------------------------------------------------------------

    def latest_values(self, now_s: float) -> dict[str, LatestValue]:
        """Return the newest observed value of each quantity, with its own age and origin."""
        return reading_store.latest(self.store, int(now_s))

    def latest_reading(self, now_s: float) -> Reading | None:
        """Return the newest observed values as one reading, as old as its oldest value."""
        values = self.latest_values(now_s)
        return _as_reading(values, min)

    def type_reading(self, reading: Reading) -> None:
        """Keep a reading typed at the bench; RangeError for a value that cannot be true."""
        typed = TypedReading(
            int(reading.taken_s),
            air_temp_c=reading.air_temp_c,
            rh_pct=reading.rh_pct,
            surface_temp_c=reading.surface_temp_c,
            surface_hot_c=reading.surface_hot_c,
        )
        reading_store.save_typed(self.store, typed)

    def preview(
        self,
        path: Path,
        *,
        time_zone: str | None = None,
        station: str | None = None,
        columns: Mapping[str, str] | None = None,
    ) -> ImportedFile:
        """Read a log or weather file without keeping it."""

        def read(zone: str | None) -> ImportedFile:
            return read_conditions(path, time_zone=zone, station=station, columns=columns)

        try:  # a zone or offset in the file itself goes before the job's
            return read(time_zone)
        except InputError:
            if time_zone is not None:
                raise
        return read(self._zone_name())

    def keep_import(self, imported: ImportedFile, file_name: str, now_s: float) -> int:
        """Keep a previewed file: what lies ahead of now counts as forecast. Returns rows added."""
        table = imported.table
        ahead = table.time_s > now_s
        past = replace(imported, table=_rows(table, ~ahead, table.origin))
        kept = reading_store.save_import(self.store, past, file_name, int(now_s))
        if ahead.any():
            kept += reading_store.save_table(self.store, _rows(table, ahead, Origin.FORECAST))
        return kept

    # --- answers -------------------------------------------------------------------------

    def words(self, now_s: float) -> Words:
        """Return the reader's units and zone."""
        units: Units = "us" if self.settings.text("units") == "us" else "metric"
        return Words(units, ZoneInfo(self._zone_name()), now_s)

    def series(self, now_s: float, days_ahead: int, reading: Reading | None = None) -> Series:
        """Lay out the shop's series from a week back to the days ahead."""
        first, last = int(now_s - 7 * DAY_S), int(now_s + (days_ahead + 3) * DAY_S)
        table = reading_store.load(self.store, first, last, origins=LAID_OUT)
        job = self.job()
        lag = None if job is None else job.surface_lag_h
        counts = reading or self._typed_today(now_s)
        return shop_series(table, now_s, days_ahead, reading=counts, surface_lag_h=lag)

    def before_mixing(
        self, coat_id: str, now_s: float, reading: Reading | None = None
    ) -> BeforeMixing:
        """Answer "may I mix now?" for one coat; `reading` is what is in the boxes, not yet kept."""
        job, words, products = self._job(), self.words(now_s), self.products()
        series = self.series(now_s, 4, reading)
        coat = job.coat(coat_id)
        week = days.Week(
            job, products, series, words, now_s, 4, sanded_s=self._logged(job, "sanded")
        )
        ready = not _still_to_do(job, coat)
        previous = days.previous_of(week, coat, {})[0] if ready else None
        case = days.case_of(job, coat, products, series, previous=previous)
        bench = mixing.Bench(
            case,
            coat,
            job.area(coat.area_id),
            series,
            words,
            now_s,
            self._why_stale(now_s, reading),
            self._logged(job, "dried").get(coat.area_id),
            _still_to_do(job, coat),
        )
        return mixing.before_mixing(bench)

    def tonight(self, now_s: float) -> tuple[FilmTonight, ...]:
        """Answer for the top film of every area, and any film of the last three days."""
        job, words, products = self._job(), self.words(now_s), self.products()
        series = self.series(now_s, 7)
        found = []
        for coat in job.coats:
            if coat.laid is None or now_s - coat.laid.end_s > 3 * DAY_S:
                continue
            above = next((c for c in job.coats if job.below(c) == coat), None)
            if coat.product_id in products and (above is None or above.laid is None):
                following = products.get(above.product_id) if above else None
                film = films.Film(coat, coat.laid, products[coat.product_id], following)
                found.append(films.film_tonight(job, film, series, words, now_s))
        return tuple(found)

    def coming_days(self, now_s: float, days_ahead: int = 7) -> ComingDays:
        """Lay out the week: one series, a lane per coat still to do."""
        series = self.series(now_s, days_ahead)
        job = self._job()
        week = days.Week(job, self.products(), series, self.words(now_s), now_s, days_ahead,
                         sanded_s=self._logged(job, "sanded"))  # fmt: skip
        return days.coming_days(week)

    def start_detail(self, lane: Lane, j: int, now_s: float) -> StartDetail:
        """Tell one start of a lane."""
        return days.start_detail(lane, j, self.words(now_s), now_s)

    # --- inner ---------------------------------------------------------------------------

    def _job(self) -> Job:
        job = self.job()
        if job is None:
            raise InputError("job: found none; accepted: set one up or open the demo")
        return job

    def _zone_name(self) -> str:
        job = self.job()
        return job.time_zone if job is not None else self.settings.text("time_zone") or "UTC"

    def _typed_today(self, now_s: float) -> Reading | None:
        values = reading_store.latest(self.store, int(now_s), origins=(Origin.TYPED,))
        return _as_reading(values, max)

    def _why_stale(self, now_s: float, reading: Reading | None) -> str:
        limit = self.settings.number("stale_after_min") * 60
        values = self.latest_values(now_s)
        ages = {k: now_s - values[k].time_s if k in values else np.inf for k in NEEDED}
        if reading is not None:
            ages = {k: now_s - reading.taken_s if getattr(reading, k) is not None else np.inf
                    for k in NEEDED}  # fmt: skip
        missing = [NAMES[k] for k, age in ages.items() if np.isinf(age)]
        old = [NAMES[k] for k, age in ages.items() if limit < age < np.inf]
        if missing:
            return f"no reading of {' and '.join(missing)}: measure and type it"
        if old:
            return (
                f"the reading of {' and '.join(old)} is over {limit / 60:.0f} min old: read again"
            )
        return ""

    def _event(
        self, job_id: str, coat_id: str, kind: str, at_s: float, detail: dict[str, object]
    ) -> None:
        with self.store.write() as db:
            db.execute(
                "INSERT INTO event (job_id, coat_id, kind, at_s, detail_json) VALUES (?,?,?,?,?)",
                (job_id, coat_id, kind, int(at_s), json.dumps(detail)),
            )

    def _logged(self, job: Job, kind: str) -> dict[str, float]:
        """Return the last time of one kind of event for each area."""
        with self.store.read() as db:
            rows = db.execute(
                "SELECT json_extract(detail_json, '$.area'), max(at_s) FROM event "
                "WHERE job_id = ? AND kind = ? GROUP BY 1",
                (job.id, kind),
            ).fetchall()
        return {area: float(at_s) for area, at_s in rows if area is not None}


def _as_reading(
    values: Mapping[str, LatestValue], which: Callable[..., LatestValue]
) -> Reading | None:
    """Join newest values to one reading, as old as its oldest (`min`) or newest (`max`) value."""
    wanted = {k: values[k] for k in (*NEEDED, "surface_hot_c") if k in values}
    if not wanted:
        return None
    timed = which(wanted.values(), key=lambda v: v.time_s)
    numbers = {k: v.value for k, v in wanted.items()}
    return Reading(
        timed.time_s,
        numbers.get("air_temp_c"),
        numbers.get("rh_pct"),
        numbers.get("surface_temp_c"),
        numbers.get("surface_hot_c"),
        timed.origin,
    )


def _still_to_do(job: Job, coat: Coat) -> str:
    """Return the name of the coat below when it is not on yet, else nothing."""
    below = job.below(coat)
    return below.name if below is not None and below.laid is None else ""


def _rows(table: ReadingTable, keep: np.ndarray, origin: Origin) -> ReadingTable:
    columns = {name: values[keep] for name, values in table.columns.items()}
    return ReadingTable(table.time_s[keep], columns, table.flags[keep], origin)
