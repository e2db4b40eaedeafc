"""The shop's air: what was read, what the outlook makes of it, and where its weather is from."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.climate.area_air import AreaAir
from advisor.climate.readings import LOGGED, Origin
from advisor.climate.series import Series
from advisor.climate.shop.shop import Shop
from advisor.planning.job import Job
from advisor.work import zones
from advisor.work.kept import Kept
from advisor.work.shop_air import DAY_S, not_followed_up, shop_series
from advisor.work.views import Reading, SourceView

# The outlook's modules are imported when first asked for: the window is drawn before them.
if TYPE_CHECKING:
    from advisor.climate.outdoor import Forecast
    from advisor.climate.sources.client import Client
    from advisor.climate.sources.typed import TypedForecast
    from advisor.work import fitting
    from advisor.work.outlook_basis import Basis
    from advisor.work.outlook_views import OutlookAnswer, ShopView
    from advisor.work.outlooks import Outlooks

#: Everything but what was typed: a typed reading pulls the series instead of making a spike.
LAID_OUT = (Origin.MEASURED, Origin.IMPORTED, Origin.FORECAST, Origin.ESTIMATED)
#: What a file tells further ahead than this is no log with a fast clock.
TOLD_AHEAD_S = 3600
#: A film laid longer ago than this is no longer followed.
LONGEST_HISTORY_S = 45 * DAY_S


@dataclass(frozen=True, eq=False)
class Airs:
    """The shop's own series and, where there is an outlook, each area's."""

    shop: Series
    areas: Mapping[str, AreaAir]
    basis: Basis | None = None

    def of(self, area_id: str) -> AreaAir:
        """Return one area's air; the shop's own without an outlook."""
        return self.areas.get(area_id) or AreaAir(self.shop)


class ShopBench(Kept):
    """Use cases about the shop and its weather."""

    def __init__(self, store: Store, resources: Path) -> None:
        super().__init__(store, resources)
        #: Set when the program is to end: a service that hangs is left at once.
        self.quitting = threading.Event()

    @cached_property
    def outlooks(self) -> Outlooks:
        """Which forecast, response and spread the outlook rests on."""
        from advisor.work.outlooks import Outlooks

        return Outlooks(self.store, self.settings)

    @cached_property
    def _client(self) -> Client:
        from advisor.base.paths import cache_dir
        from advisor.climate.sources.client import Client

        return Client(cache_dir() / "http.sqlite", stop=self.quitting)

    # --- the air -------------------------------------------------------------------------

    def series(self, now_s: float, days_ahead: int, reading: Reading | None = None) -> Series:
        """Lay out what was read and imported, before the oldest top film to the days ahead."""
        return self.airs(now_s, days_ahead, reading).shop

    def airs(
        self,
        now_s: float,
        days_ahead: int,
        reading: Reading | None = None,
        only: Sequence[str] | None = None,
        *,
        spread: bool = True,
    ) -> Airs:
        """Lay out the shop's air and, with an outlook, every area's or that of `only` some."""
        from advisor.work.log_outlook import air_of_log
        from advisor.work.outlook import Measured, areas_air, areas_by_log
        from advisor.work.outlook_basis import last_read

        job = self.job()
        span = (int(_history_from(job, now_s)), int(now_s + (days_ahead + 3) * DAY_S))
        area = self.readings_area
        areas = zones.zones_of(area, only)
        table = zones.load(self.store, span, now_s, areas, LAID_OUT)
        typed = self._typed(now_s, areas)
        pulling = typed if reading is None else (*typed, reading)
        lag = None if job is None else job.surface_lag_h
        shop = shop_series(table, span, now_s, typed=pulling, surface_lag_h=lag)
        if job is None or job.shop is None:
            return Airs(shop, {})
        read = last_read(pulling, now_s)
        basis = self.outlooks.basis(job, now_s, span[1], read=read, area=area, spread=spread)
        logged = shop_series(table, span, now_s, surface_lag_h=lag) if pulling else shop
        table = zones.load(self.store, (span[0], int(now_s)), now_s, areas, LOGGED)
        measured = Measured(logged, shop_series(table, span, now_s), typed, reading)
        if basis is not None:
            return Airs(shop, areas_air(job, basis, measured, only), basis)
        inside = air_of_log(self.store, now_s, area, spread=spread)
        if inside is None or _told_ahead(logged, now_s):
            return Airs(shop, {})
        return Airs(shop, areas_by_log(job, inside, measured, now_s, only))

    def _typed(self, now_s: float, areas: Sequence[str]) -> tuple[Reading, ...]:
        return not_followed_up(
            zones.sure_of(self.store, now_s, areas, (Origin.TYPED,)),
            zones.sure_of(self.store, now_s, areas, LOGGED),
        )

    def outlook(self, now_s: float, days_ahead: int) -> OutlookAnswer:
        """Return every area hour by hour, and what it rests on."""
        from advisor.work.outlook import view_of
        from advisor.work.outlook_views import OutlookAnswer

        job = self.job_in_hand()
        airs = self.airs(now_s, days_ahead)
        view = self.shop_view(now_s)
        coming = "forecast" if airs.basis is not None or not airs.areas else "estimated"
        areas = tuple(view_of(a, airs.of(a.id), now_s, days_ahead, coming) for a in job.areas)
        notes = () if airs.areas else (why_none(job),)
        source = self.source_in_use(now_s) if airs.areas else self._forecast_in_use(now_s)
        return OutlookAnswer(now_s, source, view.response_text, view.fitted, areas, notes)

    # --- the shop pane -------------------------------------------------------------------

    def shop_view(self, now_s: float) -> ShopView:
        """Return everything the Shop pane shows."""
        from advisor.work import shop_pane

        return shop_pane.shop_view(self, now_s)

    def source_in_use(self, now_s: float) -> SourceView | None:
        """Return how the source the outlook rests on stands; None without one."""
        from advisor.work.log_outlook import air_of_log, view_of_log

        job = self.job()
        if job is None or job.shop is None:
            return None
        forecast = self.outlooks.forecast(job, now_s)
        if forecast is None or forecast.hourly.end_s <= now_s:
            inside = air_of_log(self.store, now_s, self.readings_area, spread=False)
            if inside is not None and not all(area.outdoors for area in job.areas):
                return view_of_log(inside, self.words(now_s))
        return self._forecast_in_use(now_s)

    def _forecast_in_use(self, now_s: float) -> SourceView | None:
        from advisor.work import fetching

        job = self.job()
        forecast = None if job is None else self.outlooks.forecast(job, now_s)
        if forecast is None:
            return None
        return fetching.view_of(self.store, self.settings, forecast, self.words(now_s), now_s)

    def save_shop(self, shop: Shop) -> None:
        """Keep what the shop is; another kind, size or place is another response."""
        self.save_job(replace(self.job_in_hand(), shop=shop))

    def choose_source(self, source_id: str, agreed: bool) -> None:
        """Choose where the forecast comes from; InputError where terms must be agreed to first."""
        from advisor.work import fetching

        fetching.choose(self.settings, source_id, agreed)

    def set_fetching(self, on: bool, contact: str) -> None:
        """Allow or stop asking the internet for forecasts."""
        self.settings.set("contact", contact)
        self.settings.set("fetch_forecasts", on)

    def fetch_forecast(self, now_s: float) -> str:
        """Ask the chosen service if it is due, and say in one line how it went. Slow."""
        from advisor.work import fetching

        job = self.job_in_hand()
        if job.shop is None or job.shop.place is None:
            raise InputError("the shop's place: found none; accepted: latitude and longitude")
        return fetching.fetch(self.store, self.settings, self._client, job.shop.place, now_s)

    def type_forecast(self, typed: TypedForecast, now_s: float) -> None:
        """Keep a forecast typed by hand and go by it."""
        from advisor.climate.sources.typed import typed_forecast

        job = self.job_in_hand()
        shop = job.shop or Shop()
        zone = self.words(now_s).zone
        forecast = typed_forecast(typed, shop.place, int(now_s), zone)
        self._go_by(forecast, shop, now_s)

    def keep_weather(self, path: Path, now_s: float) -> None:
        """Keep a weather file as the weather outdoors and go by it."""
        shop = self.job_in_hand().shop or Shop()
        forecast = self._weather(path, shop, now_s)
        self._go_by(forecast, shop, now_s)

    def use_weather_file(self, path: Path, now_s: float) -> None:
        """Go by a weather file for as long as this bench lives, keeping nothing of it."""
        self.outlooks.use(self._weather(path, self.job_in_hand().shop or Shop(), now_s))

    def _weather(self, path: Path, shop: Shop, now_s: float) -> Forecast:
        from advisor.work.outlook_basis import place_of
        from advisor.work.this_year import weather_of_file

        return weather_of_file(path, self._own_zone(), place_of(shop), now_s)

    def _go_by(self, forecast: Forecast, shop: Shop, now_s: float) -> None:
        from advisor.climate.sources import archive
        from advisor.work.outlook_basis import place_of

        archive.put(self.store, forecast, place_of(shop), (), int(now_s))
        self.settings.set("forecast_source", forecast.source)
        job = self.job_in_hand()
        if job.shop is None:
            self.save_job(replace(job, shop=shop))

    def fit_ground(self, now_s: float) -> fitting.Ground | None:
        """Return what the shop's response is fitted on; None without a shop or a forecast."""
        from advisor.work import fitting

        job = self.job()
        forecast = None if job is None else self.outlooks.forecast(job, now_s)
        if job is None or job.shop is None or forecast is None:
            return None
        return fitting.Ground(job, forecast, self.readings_area)

    def upkeep(self, now_s: float) -> str:
        """Note what is said of the shop's air, and fit its response anew if the log grew. Slow."""
        from advisor.work import fitting, said

        ground = self.fit_ground(now_s)
        if ground is None:
            return ""
        indoors = next((a.id for a in ground.job.areas if not a.outdoors), None)
        if indoors is not None and not ground.area and said.due(self.store, now_s):
            airs = self.airs(now_s, 2, None, (indoors,), spread=False)
            if airs.areas:
                said.keep(self.store, airs.of(indoors).series, now_s)
        return fitting.refit(self.store, ground, now_s)


def _told_ahead(series: Series, now_s: float) -> bool:
    """Whether an imported file tells the air of coming hours, so that no log need be continued."""
    ahead = series.part(now_s + TOLD_AHEAD_S, series.end_s)
    return bool((~np.isnan(ahead.air_temp_c)).any())


def why_none(job: Job) -> str:
    """Say why a job has no outlook."""
    if job.shop is None:
        return "no outlook: the job does not say what the shop is ([shop] in its file)"
    return "no outlook: there is no forecast of the coming hours (fetch, type or import one)"


def _history_from(job: Job | None, now_s: float) -> float:
    """Return from when on the past matters: a week, or since the oldest top film was laid."""
    laid = [c.laid.start_s for c in job.top_coats() if c.laid is not None] if job else []
    oldest = min((s for s in laid if s > now_s - LONGEST_HISTORY_S), default=now_s)
    return min(now_s - 7 * DAY_S, oldest - 3600)
