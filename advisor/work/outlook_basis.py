"""What the outlook of a shop rests on: the weather kept, the shop's log, its response."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.area_surface import with_sun
from advisor.climate.outdoor import Forecast, Outdoor
from advisor.climate.outdoor_grid import joined, to_grid
from advisor.climate.outlook import Weather
from advisor.climate.place import Place
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.series import dew_rows, on_grid
from advisor.climate.shop.observe import state_at_end
from advisor.climate.shop.response import Response, ShopLog, State
from advisor.climate.shop.shop import Shop
from advisor.climate.sources import archive
from advisor.climate.spread.draws import scenario_outdoor
from advisor.climate.spread.errors import ErrorModel
from advisor.climate.spread.shop_residuals import residual_courses
from advisor.work.shop_air import LOGGED

DAY_S = 86400
#: Forecasts that nobody fetched: typed by hand, or a weather file.
OWN_SOURCES = ("typed", "file", "demo")
#: Where weather is kept that belongs to no place on the map.
NOWHERE = Place(0.0, 0.0)
#: Days of log the hidden state of the fabric is read from.
STATE_DAYS = 5
#: Nothing is looked at further ahead than this.
MOST_DAYS = 16
#: A log that ends longer ago than this no longer tells what the air is now.
LOG_ENDS_S = 48 * 3600


@dataclass(frozen=True, eq=False)
class Basis:
    """Everything the outlook is computed from. `now_s` UTC seconds; no inputs applied yet."""

    shop: Shop
    place: Place
    response: Response
    forecast: Forecast
    weather: Weather
    state: State
    now_s: float
    residual_k: tuple[np.ndarray, np.ndarray] | None = None
    notes: tuple[str, ...] = ()


def place_of(shop: Shop) -> Place:
    """Return where the shop stands; nowhere in particular where nobody said."""
    return shop.place or NOWHERE


def best_forecast(
    store: Store, sources: Sequence[str], place: Place, now_s: float
) -> Forecast | None:
    """Return the newest forecast of the first source that still has hours to come.

    Where none has, the one that ended last: it is shown with its age, and all is unknown.
    """
    found = [f for f in (archive.latest(store, s, place) for s in sources) if f is not None]
    lasting = [f for f in found if f.hourly.end_s > now_s]
    if lasting:
        return lasting[0]
    return max(found, key=lambda f: f.hourly.end_s, default=None)


def weather_until_now(
    store: Store, forecast: Forecast, place: Place, since_s: int, now_s: float
) -> Outdoor:
    """Return the outdoor hours of the past, as the source said them shortly before."""
    past = archive.recent_past(store, forecast.source, place, since_s, int(now_s))
    return _sunny(past, place)


def shop_log(store: Store, outdoor: Outdoor) -> ShopLog:
    """Return the shop's own log on the grid of the outdoor weather."""
    grid = outdoor.time_s
    table = reading_store.load(store, int(grid[0]), int(grid[-1]), origins=LOGGED)
    return ShopLog(
        on_grid(table.time_s, table.column("air_temp_c"), grid),
        on_grid(table.time_s, dew_rows(table), grid),
        outdoor,
    )


def load_basis(
    store: Store,
    shop: Shop,
    forecast: Forecast,
    response: Response,
    model: ErrorModel | None,
    span_s: tuple[float, float],
) -> Basis:
    """Gather the weather from now to the end of `span_s`, and the shop's state now.

    `model` None: no courses.
    """
    now_s, until_s = span_s
    place, step = place_of(shop), SCENARIO_STEP_S
    first_s = int(now_s) - STATE_DAYS * DAY_S
    sunny = _coming(forecast, place, now_s, min(until_s, now_s + MOST_DAYS * DAY_S))
    past = weather_until_now(store, forecast, place, first_s, now_s)
    whole = joined(
        to_grid(past, first_s, now_s, step),
        to_grid(sunny.hourly, max(first_s, sunny.hourly.start_s), sunny.hourly.end_s, step),
    )
    log = shop_log(store, _cut(whole, whole.start_s, now_s))
    state, note = _state(response, log, whole, now_s)
    central = _cut(whole, state.time_s, whole.end_s)
    courses = None if model is None else _courses(sunny, model, central, now_s)
    residual = None
    if courses is not None:
        count, n = courses.columns["air_temp_c"].shape
        residual = residual_courses(response, n, step, count, _seed(forecast))
    return Basis(shop, place, response, forecast, Weather(central, courses), state, now_s,
                 residual, (note,) if note else ())  # fmt: skip


def _coming(forecast: Forecast, place: Place, now_s: float, until_s: float) -> Forecast:
    """Return the forecast from the days the state is read from to the last day looked at."""
    hourly = _cut(forecast.hourly, now_s - STATE_DAYS * DAY_S, until_s)
    kept = (hourly.start_s - forecast.hourly.start_s) // hourly.step_s
    part = slice(kept, kept + len(hourly))
    many, low, high = (
        {name: values[..., part] for name, values in columns.items()}
        for columns in (forecast.members, forecast.low10, forecast.high90)
    )
    return replace(forecast, hourly=_sunny(hourly, place), step_h=forecast.step_h[part],
                   members=many, low10=low, high90=high)  # fmt: skip


def _sunny(weather: Outdoor, place: Place) -> Outdoor:
    """Fill the sun from the cloud; where nothing tells the cloud the sun stays untold."""
    if np.isnan(weather.column("cloud_pct")).all():
        return weather
    return with_sun(weather, place)


def _cut(weather: Outdoor, first_s: float, last_s: float) -> Outdoor:
    """Return the grid points in [first_s, last_s]."""
    a = max(0, int(np.ceil((first_s - weather.start_s) / weather.step_s)))
    b = max(a, int((last_s - weather.start_s) // weather.step_s) + 1)
    columns = {name: values[..., a:b] for name, values in weather.columns.items()}
    return Outdoor(weather.start_s + a * weather.step_s, weather.step_s, columns, weather.derived)


def _state(response: Response, log: ShopLog, weather: Outdoor, now_s: float) -> tuple[State, str]:
    """Return the shop's state where the log ends; else as outdoors, with a note saying so."""
    known = np.flatnonzero(np.isfinite(log.air_temp_c) & np.isfinite(log.dew_point_c))
    step, now_at = weather.step_s, int((now_s - weather.start_s) // weather.step_s)
    if len(known):
        last = int(known[-1])
        outdoors = weather.column("air_temp_c")[last : now_at + 1]
        if (now_at - last) * step <= LOG_ENDS_S and _longest_hole(outdoors) * step <= 3 * 3600:
            return state_at_end(response, log), ""
    at_s = weather.start_s + now_at * step
    air, dew = (float(weather.column(n)[now_at]) for n in ("air_temp_c", "dew_point_c"))
    note = "the shop's air now is not known: taken as outdoors until a reading is there"
    return State.at_rest(at_s, air, min(air, dew)), note


def _longest_hole(values: np.ndarray) -> int:
    """Return the most steps in a row without a value."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], np.isnan(values), [0]))))
    return int((edges[1::2] - edges[::2]).max(initial=0))


def _courses(forecast: Forecast, model: ErrorModel, central: Outdoor, now_s: float) -> Outdoor:
    """Return courses on the grid of the central weather; up to now all are the central one."""
    step = central.step_s
    now_k = (int(now_s // step) * step - central.start_s) // step
    drawn = scenario_outdoor(forecast, model, now_s=now_s, step_s=step, seed=_seed(forecast))
    count = len(drawn.columns["air_temp_c"])
    # Sun, rain and the rest are not drawn: as the central weather has them, step for step.
    columns = {name: np.broadcast_to(values, (count, len(central)))
               for name, values in central.columns.items()}  # fmt: skip
    for name in ("air_temp_c", "dew_point_c"):
        head = np.broadcast_to(central.column(name)[:now_k], (count, now_k))
        both = np.concatenate((head, drawn.columns[name]), axis=1)[:, : len(central)]
        columns[name] = both
    return Outdoor(central.start_s, step, columns, central.derived)


def _seed(forecast: Forecast) -> int:
    """The same forecast draws the same courses, so that nothing flickers."""
    return int(forecast.issued_s or forecast.fetched_s) % 2**32
