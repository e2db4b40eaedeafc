"""What one shop keeps: its job, products, readings and settings."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from advisor.base.errors import InputError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.base.units import Units
from advisor.climate.reading_store import LatestValue
from advisor.climate.readings import ImportedFile, Origin, ReadingTable
from advisor.planning.job import Job, Laid
from advisor.planning.job_file import parse_job, read_job
from advisor.planning.words import Words
from advisor.work import kept_events, kept_import, zones
from advisor.work.instruments import Instruments, keep_instruments, kept_instruments
from advisor.work.shop_shelf import ShopShelf
from advisor.work.views import Reading

# What reads files is imported when first asked for: the window is drawn before it.
if TYPE_CHECKING:
    from advisor.coatings.product import Product
    from advisor.record.entry import Entry
    from advisor.work.known import Shown
    from advisor.work.recording import Recorder

#: A logger's clock may run this much fast without its log being taken for an outlook.
CLOCK_FAST_S = 15 * 60
#: No forecast reaches further ahead than this.
FURTHEST_S = 16 * 86400
#: The invented job, kept anew under an id for each day; its readings are apart from the user's own.
DEMO_ID = "demo-dunlin"
NEEDED = ("air_temp_c", "rh_pct", "surface_temp_c")


class Kept:
    """Job, products and readings in the store. `resources` holds templates and the demo."""

    def __init__(self, store: Store, resources: Path) -> None:
        self.store = store
        self.resources = resources
        self.settings = Settings(store)
        self.shelf = ShopShelf(store, resources / "products")
        #: The answer last shown for each coat: an entry says what was known when it was kept.
        self.shown: dict[str, Shown] = {}
        self._given: Job | None = None
        #: The job last read, beside the text it was read from: it is asked for at every step.
        self._read: tuple[str, str, Job] | None = None

    @cached_property
    def record(self) -> Recorder:
        """The record of the job in hand."""
        from advisor.work.recording import Recorder

        return Recorder(self)

    # --- job -----------------------------------------------------------------------------

    def job(self) -> Job | None:
        """Return the job in hand, None on a first start."""
        if self._given is not None:
            return self._given
        wanted = self.settings.text("last_job")
        with self.store.read() as db:
            row = db.execute("SELECT toml FROM job WHERE id = ?", (wanted,)).fetchone()
        return None if row is None else self._parsed(wanted, row[0])

    def _parsed(self, job_id: str, toml: str) -> Job:
        known = self._read
        if known is None or known[:2] != (job_id, toml):
            known = (job_id, toml, parse_job(toml, f"job {job_id}"))
            self._read = known
        return known[2]

    def job_in_hand(self) -> Job:
        """Return the job in hand; InputError where there is none."""
        job = self.job()
        if job is None:
            raise InputError("job: found none; accepted: set one up or open the demo")
        return job

    def save_job(self, job: Job) -> None:
        """Keep a job and make it the one in hand."""
        with self.store.write() as db:
            kept_events.put_job(db, job)
        self.make_in_hand(job.id)

    def make_in_hand(self, job_id: str) -> None:
        """Go by this job from now on and at the next start."""
        if self.settings.text("last_job") != job_id:
            self.settings.set("last_job", job_id)

    @property
    def goes_by_file(self) -> bool:
        """Whether the job in hand is that of a file, not the one kept."""
        return self._given is not None

    def use_job_file(self, path: Path) -> Job:
        """Go by a job file for as long as this bench lives, keeping nothing of it."""
        self._given = read_job(path)
        return self._given

    def lay_coat(
        self, coat_id: str, start_s: float, end_s: float, now_s: float | None = None
    ) -> Entry:
        """Note that a coat went on, from its first to its last patch."""
        return kept_events.lay_coat(self, coat_id, Laid(start_s, end_s), now_s=now_s)

    def unlay_coat(self, coat_id: str, now_s: float) -> Entry:
        """Take back that a coat went on; what was said before stays."""
        return kept_events.unlay_coat(self, coat_id, now_s)

    def log_dried(self, at_s: float, area_id: str, now_s: float | None = None) -> Entry:
        """Note that the surface was dried and wiped."""
        return kept_events.log_preparation(self, "dried and wiped", at_s, now_s, area_id)

    def log_sanded(self, at_s: float, area_id: str, now_s: float | None = None) -> Entry:
        """Note that the area was sanded and wiped: the bond of the coat below is renewed."""
        return kept_events.log_preparation(self, "sanded and wiped", at_s, now_s, area_id)

    # --- products ------------------------------------------------------------------------

    def products(self) -> dict[str, Product]:
        """Return templates and the user's own, by id."""
        return self.shelf.products()

    def add_product_file(self, path: Path) -> Product:
        """Read a product file and keep it; FileFormatError when it cannot be used."""
        return self.shelf.add_file(path)

    # --- readings ------------------------------------------------------------------------

    def latest_values(self, now_s: float, area_id: str = "") -> dict[str, LatestValue]:
        """Return the newest observed value of each quantity, with its own age and origin.

        `area_id`: as read in that zone where this is newer than the shop's.
        """
        areas = (self.readings_area, area_id) if area_id else (self.readings_area,)
        return zones.newest(self.store, now_s, areas)

    def latest_reading(self, now_s: float) -> Reading | None:
        """Return the newest observed values as one reading, as old as its oldest value."""
        values = self.latest_values(now_s)
        return _as_reading(values)

    def type_reading(
        self, reading: Reading, now_s: float | None = None, area_id: str = "", **said: str
    ) -> Entry | None:
        """Keep a reading typed at the bench; RangeError for a value that cannot be true.

        `said` are further fields of a reading in words, such as `reason`. Without a job nothing
        is entered in a record.
        """
        return kept_events.type_reading(self, reading, now_s, area_id, said)

    def preview(
        self,
        path: Path,
        *,
        time_zone: str | None = None,
        station: str | None = None,
        columns: Mapping[str, str] | None = None,
    ) -> ImportedFile:
        """Read a log or weather file without keeping it."""
        from advisor.climate.conditions_file import read_conditions

        def read(zone: str | None) -> ImportedFile:
            return read_conditions(path, time_zone=zone, station=station, columns=columns)

        try:  # a zone or offset in the file itself goes before the job's
            return read(time_zone)
        except InputError:
            if time_zone is not None:
                raise
        zone = self._own_zone()
        return _by_jobs_zone(read(zone)) if zone else read(None)

    def keep_import(
        self, imported: ImportedFile, file_name: str, now_s: float, path: Path | None = None
    ) -> int:
        """Keep a previewed file and its entry; `path` is the file itself. Returns rows added.

        A file that reaches past now is an outlook, none of it measured here. A weather year of
        the past is laid onto this year, as an estimate.
        """
        from advisor.work.this_year import onto_this_year

        table = onto_this_year(imported, now_s)
        if table is imported.table:
            _refuse_far_ahead(table, file_name, now_s)
        if table is imported.table and (table.time_s > now_s + CLOCK_FAST_S).any():
            table = replace(table, origin=Origin.FORECAST)
        kept = replace(imported, table=table)
        return kept_import.keep_import(self, kept, file_name, now_s, path)

    # --- instruments ---------------------------------------------------------------------

    def instruments(self) -> Instruments:
        """Return what the makers of the shop's instruments state."""
        return kept_instruments(self.settings)

    def save_instruments(self, instruments: Instruments) -> None:
        """Keep what the makers state; RangeError for a figure that cannot be."""
        keep_instruments(self.settings, instruments)

    # --- inner ---------------------------------------------------------------------------

    @property
    def readings_area(self) -> str:
        """Under which name the readings of the job in hand are kept."""
        job = self.job()
        if job is None or not is_demo(job.id):
            return ""
        return f"demo{job.id.removeprefix(DEMO_ID)}"

    def words(self, now_s: float) -> Words:
        """Return the reader's units and zone."""
        units: Units = "us" if self.settings.text("units") == "us" else "metric"
        return Words(units, ZoneInfo(self._zone_name()), now_s)

    def _own_zone(self) -> str:
        job = self.job()
        return job.time_zone if job is not None else self.settings.text("time_zone")

    def _zone_name(self) -> str:
        return self._own_zone() or "UTC"

    def _mix_temp_c(self) -> float | None:
        """Return the temperature of the tins as entered, None for the usual assumption."""
        entered = str(self.settings.get("mix_temp_c"))
        return float(entered) if entered else None

    def _logged(self, job: Job, kind: str) -> dict[str, float]:
        """Return the last time of one kind of event for each area."""
        with self.store.read() as db:
            rows = db.execute(
                "SELECT json_extract(detail_json, '$.area'), max(at_s) FROM event "
                "WHERE job_id = ? AND kind = ? GROUP BY 1",
                (job.id, kind),
            ).fetchall()
        return {area: float(at_s) for area, at_s in rows if area is not None}


def is_demo(job_id: str) -> bool:
    """Whether a job is the invented one, of any day."""
    return job_id == DEMO_ID or job_id.startswith(f"{DEMO_ID}-")


def _by_jobs_zone(imported: ImportedFile) -> ImportedFile:
    """Say that the zone is the job's: nobody told it for this file."""
    told = {
        name: words.replace("told by you", "the job's own; the file names none")
        if "zone" in name
        else words
        for name, words in imported.report.mapping.items()
    }
    return replace(imported, report=replace(imported.report, mapping=told))


def _refuse_far_ahead(table: ReadingTable, file_name: str, now_s: float) -> None:
    """Refuse a file with a row no forecast reaches: a wrong year makes all of it an outlook."""
    far = np.flatnonzero(table.time_s > now_s + FURTHEST_S)
    if len(far):
        day = np.datetime64(int(table.time_s[far[0]]), "s").astype("datetime64[D]")
        found = f"{len(far)} rows" if len(far) > 1 else "a row"
        raise InputError(
            f"{file_name}: found {found} from {day} on; accepted: rows up to 16 days ahead. "
            "Mend the date, or leave the row out"
        )


def _as_reading(values: Mapping[str, LatestValue]) -> Reading | None:
    """Join newest values to one reading, as old as its oldest value."""
    wanted = {k: values[k] for k in (*NEEDED, "surface_hot_c") if k in values}
    if not wanted:
        return None
    timed = min(wanted.values(), key=lambda v: v.time_s)
    numbers = {k: v.value for k, v in wanted.items()}
    return Reading(
        timed.time_s,
        numbers.get("air_temp_c"),
        numbers.get("rh_pct"),
        numbers.get("surface_temp_c"),
        numbers.get("surface_hot_c"),
        timed.origin,
    )
