"""Keeps a shop's weather, its response and its spread, and lays out its outlook from them."""

from __future__ import annotations

from advisor.base.errors import InputError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.shop.response import Response, usual_response
from advisor.climate.shop.shop import Shop
from advisor.climate.sources import archive
from advisor.climate.sources.all_sources import suggested
from advisor.climate.spread.errors import ErrorModel, pairs_of
from advisor.climate.spread.learn import learn
from advisor.climate.spread.prior import prior
from advisor.planning.job import Job
from advisor.work import kept_fits
from advisor.work.outlook_basis import (
    DAY_S,
    OWN_SOURCES,
    Basis,
    Ground,
    LastRead,
    best_forecast,
    load_basis,
    place_of,
)

RESPONSE, SKILL = "response", "skill"
#: Forecasts an error model is learned from: of this long back, one in so many seconds, since
#: those between say nearly the same. What happened was said within the hour.
LEARN_S, LEARN_EVERY_S, HOUR_S = 90 * DAY_S, 6 * 3600, 3600


class Outlooks:
    """One shop's outlook. Remembers what it learned of a source until a newer forecast is kept."""

    def __init__(self, store: Store, settings: Settings) -> None:
        self._store = store
        self._settings = settings
        self._given: Forecast | None = None
        self._models: dict[tuple[str, Place, int], ErrorModel] = {}

    def use(self, forecast: Forecast) -> None:
        """Go by this forecast for as long as this object lives, keeping nothing of it."""
        self._given = forecast

    def sources(self, shop: Shop) -> tuple[str, ...]:
        """Return the sources to read: the chosen one, those that suit the place, those by hand."""
        chosen = self._settings.text("forecast_source")
        services = () if shop.place is None else tuple(s.id for s in suggested(shop.place))
        return tuple(dict.fromkeys((*((chosen,) if chosen else ()), *services, *OWN_SOURCES)))

    def forecast(self, job: Job, now_s: float) -> Forecast | None:
        """Return the forecast the outlook rests on, None without one or without a shop."""
        if job.shop is None or self._given is not None:
            return None if job.shop is None else self._given
        place = place_of(job.shop)
        return best_forecast(self._store, self.sources(job.shop), place, now_s)

    def response(self, job: Job) -> Response:
        """Return the shop's response: fitted to its log, else the usual one for its kind."""
        shop = job.shop or Shop()
        kept = kept_fits.get(self._store, kept_fits.name(RESPONSE, job))
        if kept is None:
            return usual_response(shop)
        try:
            return Response.from_json(kept.json)
        except InputError:
            # Written by another version: the usual figures do until the next fit.
            return usual_response(shop)

    def model(self, forecast: Forecast, place: Place) -> ErrorModel:
        """Return how wrong the source is here, learned from its archive."""
        if forecast.source in OWN_SOURCES:
            return prior(forecast.source)
        key = (forecast.source, place, forecast.fetched_s)
        if key not in self._models:
            self._models = {key: self._learned(forecast, place)}
        return self._models[key]

    def _learned(self, forecast: Forecast, place: Place) -> ErrorModel:
        since = forecast.fetched_s - LEARN_S
        kept = (self._store, forecast.source, place, since)
        past = archive.history(*kept, every_s=LEARN_EVERY_S)
        happened = archive.recent_past(*kept, forecast.fetched_s, every_s=HOUR_S)
        return learn(pairs_of(past, happened)) if past else prior(forecast.source)

    def basis(
        self,
        job: Job,
        now_s: float,
        until_s: float,
        *,
        read: LastRead | None = None,
        area: str = "",
        spread: bool = True,
    ) -> Basis | None:
        """Gather what the outlook rests on; None without a shop or a forecast of coming hours."""
        forecast = self.forecast(job, now_s)
        if job.shop is None or forecast is None or forecast.hourly.end_s <= now_s:
            return None
        model = self.model(forecast, place_of(job.shop)) if spread else None
        ground = Ground(job.shop, self.response(job), forecast, model, read, area)
        return load_basis(self._store, ground, (now_s, until_s))
