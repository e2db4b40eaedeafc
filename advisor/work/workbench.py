"""One shop's workbench: the answers made from its job, products and readings."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np

from advisor.base.errors import InputError
from advisor.climate.readings import DOUBTFUL
from advisor.planning.job import Coat, Job
from advisor.work.kept import NEEDED
from advisor.work.shop_bench import Airs, ShopBench, why_none
from advisor.work.views import BeforeMixing, ComingDays, FilmTonight, Lane, Reading, StartDetail

# What answers is imported when first asked for: the window is drawn before it.
if TYPE_CHECKING:
    from collections.abc import Mapping

    from advisor.climate.shop.shop import Change
    from advisor.coatings.product import Product
    from advisor.work import days
    from advisor.work.guard import Guard
    from advisor.work.live import Live
    from advisor.work.observed import Calibration
    from advisor.work.outlook_views import Suggestion, WhatIf
    from advisor.work.reporting import Reporting
    from advisor.work.reviews import Reviews
    from advisor.work.sensors import Sensors
    from advisor.work.what_if_bench import Prepared

NAMES = MappingProxyType(
    {"air_temp_c": "air temperature", "rh_pct": "humidity", "surface_temp_c": "coldest spot"}
)


class Workbench(ShopBench):
    """What the window and the command line call. `resources` holds templates and the demo."""

    # --- the record and the live bench, each in its own module ----------------------------

    @cached_property
    def live(self) -> Live:
        """The batch in hand, the coat going on, alarms."""
        from advisor.work.live import Live

        return Live(self)

    @cached_property
    def sensors(self) -> Sensors:
        """Readings that come by themselves."""
        from advisor.work.sensors import Sensors

        return Sensors(self)

    @cached_property
    def reviews(self) -> Reviews:
        """Whether coats were inside their limits, and why one failed."""
        from advisor.work.reviews import Reviews

        return Reviews(self)

    @cached_property
    def reporting(self) -> Reporting:
        """The report and its files."""
        from advisor.work.reporting import Reporting

        return Reporting(self)

    @cached_property
    def guard(self) -> Guard:
        """Copies of the store, and whether it is whole."""
        from advisor.work.guard import Guard

        return Guard(self)

    # --- answers -------------------------------------------------------------------------

    def load_demo(self, now_s: float) -> Job:
        """Set up the invented demo job, moved to start today."""
        from advisor.work.demo import load_demo

        return load_demo(self, now_s)

    def keep_demo_record(self, now_s: float) -> bool:
        """Keep the record of the demo's crew, once a day; True where it was. Slow."""
        from advisor.work.demo_record import keep_demo_record

        return keep_demo_record(self, now_s)

    def before_mixing(
        self, coat_id: str, now_s: float, reading: Reading | None = None
    ) -> BeforeMixing:
        """Answer "may I mix now?" for one coat; `reading` is what is in the boxes, not yet kept."""
        from advisor.work import days, mixing
        from advisor.work.known import Shown

        job, words = self.job_in_hand(), self.words(now_s)
        products, seen = self._as_observed()
        coat = job.coat(coat_id)
        airs = self.airs(now_s, 4, reading, (coat.area_id,))
        air = airs.of(coat.area_id)
        series = air.series
        if coat.product_id not in products:
            raise InputError(
                f"{coat.name}: found product {coat.product_id!r}, which is not on the shelf; "
                "accepted: a product of the list, or add its file"
            )
        week = days.Week(job, products, airs.shop, words, now_s, 4, self._mix_temp_c(),
                         self._logged(job, "sanded"), airs.areas,
                         self.instruments().spread)  # fmt: skip
        ready = not _still_to_do(job, coat)
        previous = days.previous_of(week, coat, {})[0] if ready else None
        case = days.case_of(
            job, coat, products, series, previous=previous, mix_temp_c=week.mix_temp_c,
            spread=week.spread,
        )  # fmt: skip
        bench = mixing.Bench(
            case,
            coat,
            job.area(coat.area_id),
            series,
            words,
            now_s,
            self._why_stale(now_s, reading, coat.area_id),
            self._logged(job, "dried").get(coat.area_id),
            _still_to_do(job, coat),
            air.scenarios,
        )
        found = mixing.before_mixing(bench)
        more = (*_seen(job, coat, seen), *self._rests_on(airs, now_s))
        found = replace(found, assumptions=(*found.assumptions, *more))
        self.shown[coat_id] = Shown(now_s, found)
        return found

    def _as_observed(self) -> tuple[dict[str, Product], Mapping[str, Calibration]]:
        """Return the products with their clocks as films of this job were seen to dry, and how."""
        from advisor.work.observed import as_observed, calibrations

        found = calibrations(self)
        return as_observed(self.products(), found), found

    def _rests_on(self, airs: Airs, now_s: float) -> tuple[str, ...]:
        """Say which weather the coming hours rest on, how old it is, and whose it is."""
        source = self.source_in_use(now_s) if airs.areas else None
        return () if source is None else (f"{source.name}: {source.text}; {source.credit}",)

    def tonight(self, now_s: float, reading: Reading | None = None) -> tuple[FilmTonight, ...]:
        """Answer for the top film of every area that was laid in the time looked back on."""
        from advisor.work import days, films

        job, words = self.job_in_hand(), self.words(now_s)
        products, seen = self._as_observed()
        airs, sanded = self.airs(now_s, 7, reading), self._logged(job, "sanded")
        found = []
        for coat in job.top_coats():
            series = airs.of(coat.area_id).series
            if coat.laid is None or coat.laid.start_s < series.start_s:
                continue
            above = job.above(coat)
            film = films.Film(
                coat,
                coat.laid,
                days.product_of(products, coat),
                days.product_of(products, above) if above else None,
                sanded=sanded.get(coat.area_id, -np.inf) >= coat.laid.end_s,
                reverse=above.reverse if above else False,
            )
            told = films.film_tonight(job, film, series, words, now_s)
            advice = " ".join(
                (told.advice, *(f"{note}." for note in _seen(job, coat, seen)))
            ).strip()
            found.append(replace(told, advice=advice))
        return tuple(found)

    def coming_days(
        self, now_s: float, days_ahead: int = 7, reading: Reading | None = None
    ) -> ComingDays:
        """Lay out the week: one series, a lane per coat still to do; `reading` as before mixing."""
        from advisor.work import days
        from advisor.work.spread_band import bands_of

        products, found = self._as_observed()
        week = self._week(now_s, self.airs(now_s, days_ahead, reading), days_ahead, products)
        shown = days.coming_days(week)
        source = self.source_in_use(now_s) if week.areas else None
        bands = bands_of(week.areas)
        seen = dict.fromkeys(
            note for c in week.job.next_coats() for note in _seen(week.job, c, found)
        )
        shown = replace(shown, note=". ".join(filter(None, (shown.note, *seen))))
        return replace(shown, band=bands.get(week.shown_area), source=source, bands=bands)

    def _week(
        self, now_s: float, airs: Airs, days_ahead: int, products: dict[str, Product]
    ) -> days.Week:
        from advisor.work import days

        job = self.job_in_hand()
        return days.Week(job, products, airs.shop, self.words(now_s), now_s, days_ahead,
                         self._mix_temp_c(), self._logged(job, "sanded"), airs.areas,
                         self.instruments().spread)  # fmt: skip

    def prepare_what_if(
        self, now_s: float, days_ahead: int = 7, reading: Reading | None = None
    ) -> Prepared:
        """Lay out what every change starts from; InputError without an outlook.

        `reading` is what is in the boxes, not yet kept.
        """
        from advisor.work.what_if_bench import prepared

        airs = self.airs(now_s, days_ahead, reading)
        if airs.basis is None:
            raise InputError(why_none(self.job_in_hand()))
        products, _ = self._as_observed()
        return prepared(self._week(now_s, airs, days_ahead, products), airs.basis)

    def what_if(self, at: Prepared, change: Change) -> WhatIf:
        """Return the week under a change to the shop's air, by central values."""
        from advisor.work.what_if_bench import answered

        return answered(at, change)

    def what_if_chances(self, at: Prepared, change: Change) -> WhatIf:
        """Return the same with the chances of every start. Slow."""
        from advisor.work.what_if_bench import with_chances

        return with_chances(at, change)

    def cheapest(self, at: Prepared, coat_id: str) -> tuple[Suggestion, ...]:
        """Return the cheapest changes that open a window for a coat. Slow."""
        from advisor.work.what_if_bench import suggested

        return suggested(at, coat_id)

    def start_detail(self, lane: Lane, j: int, now_s: float) -> StartDetail:
        """Tell one start of a lane."""
        from advisor.work import days

        return days.start_detail(lane, j, self.words(now_s), now_s)

    # --- inner ---------------------------------------------------------------------------

    def _why_stale(self, now_s: float, reading: Reading | None, area_id: str) -> str:
        limit = self.settings.number("stale_after_min") * 60
        values = self.latest_values(now_s, area_id)
        ages = {k: now_s - values[k].time_s if k in values else np.inf for k in NEEDED}
        if reading is not None:
            ages = {k: now_s - reading.taken_s if getattr(reading, k) is not None else np.inf
                    for k in NEEDED}  # fmt: skip
        missing = [NAMES[k] for k, age in ages.items() if np.isinf(age)]
        old = [NAMES[k] for k, age in ages.items() if limit < age < np.inf]
        odd = [NAMES[k] for k in NEEDED
               if reading is None and k in values and values[k].flags & DOUBTFUL]  # fmt: skip
        if odd:
            return f"the logged {' and '.join(odd)} looks wrong: read it by hand and type it"
        if missing:
            return f"no reading of {' and '.join(missing)}: measure and type it"
        if old:
            return (
                f"the reading of {' and '.join(old)} is over {limit / 60:.0f} min old: read again"
            )
        return ""


def _seen(job: Job, coat: Coat, found: Mapping[str, Calibration]) -> tuple[str, ...]:
    """Say which clocks of a coat, or of the one below, go by what was seen."""
    below = job.below(coat)
    named = {c.product_id: c.name for c in (below, coat) if c is not None}
    return tuple(found[key].note(name) for key, name in named.items() if key in found)


def _still_to_do(job: Job, coat: Coat) -> str:
    """Return the name of the coat below when it is not on yet, else nothing."""
    below = job.below(coat)
    return below.name if below is not None and below.laid is None else ""
