"""What the outlook of a shop rests on: the weather kept, the shop's log, its response."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.area_surface import with_sun
from advisor.climate.outdoor import FloatArray, Forecast, Outdoor
from advisor.climate.outdoor_grid import joined, to_grid
from advisor.climate.outlook import WARM_UP_S, Weather
from advisor.climate.place import Place
from advisor.climate.readings import LOGGED
from advisor.climate.scenarios import SCENARIO_STEP_S
from advisor.climate.series import LONGEST_GAP_S, dew_rows, on_grid
from advisor.climate.shop.observe import state_at_end
from advisor.climate.shop.response import Response, ShopLog, State
from advisor.climate.shop.shop import Shop
from advisor.climate.sources import archive
from advisor.climate.spread.draws import scenario_outdoor
from advisor.climate.spread.errors import ErrorModel
from advisor.climate.spread.shop_residuals import residual_courses
from advisor.physics import moist_air
from advisor.work.views import Reading

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
#: A forecast that reaches less far gives way to one of the next source.
ENOUGH_S = DAY_S
#: The response's doubt is whole this long after the last reading.
DOUBT_WHOLE_S = 48 * 3600
DRIVERS = ("air_temp_c", "dew_point_c")
STILL_NOTE = (
    "the weather since the last reading in the shop is not known: its air is taken as it was then"
)
UNREAD_NOTE = (
    "the shop's air was not read: computed from the weather alone, and widely doubted, until it is"
)


@dataclass(frozen=True, eq=False)
class Basis:
    """Everything the outlook is computed from; no inputs applied yet. Times in UTC seconds.

    The state holds at its own time; what was not read is told from `fill_from_s` on.
    """

    shop: Shop
    place: Place
    response: Response
    forecast: Forecast
    weather: Weather
    state: State
    now_s: float
    fill_from_s: float
    residual_k: tuple[FloatArray, FloatArray] | None = None
    notes: tuple[str, ...] = ()
    surface_known: bool = True


def place_of(shop: Shop) -> Place:
    """Return where the shop stands; nowhere in particular where nobody said."""
    return shop.place or NOWHERE


def best_forecast(
    store: Store, sources: Sequence[str], place: Place, now_s: float
) -> Forecast | None:
    """Return the newest forecast of the first source that reaches a day ahead, else at all.

    Where none has hours to come, the one that ended last: shown with its age, and all is unknown.
    """
    found = [f for f in (archive.latest(store, s, place) for s in sources) if f is not None]
    lasting = [f for f in found if f.hourly.end_s > now_s]
    far = [f for f in lasting if f.hourly.end_s > now_s + ENOUGH_S]
    if lasting:
        return (far or lasting)[0]
    return max(found, key=lambda f: f.hourly.end_s, default=None)


def weather_until_now(
    store: Store, forecast: Forecast, place: Place, since_s: int, now_s: float
) -> Outdoor:
    """Return the outdoor hours of the past, as the source said them shortly before."""
    past = archive.recent_past(store, forecast.source, place, since_s, int(now_s))
    return _sunny(past, place)


def shop_log(store: Store, outdoor: Outdoor, area: str = "") -> ShopLog:
    """Return the shop's own log on the grid of the outdoor weather."""
    grid = outdoor.time_s
    span = (int(grid[0]), int(grid[-1]))
    table = reading_store.load(store, *span, area, LOGGED, for_grid=True)
    return ShopLog(
        on_grid(table.time_s, table.column("air_temp_c"), grid),
        on_grid(table.time_s, dew_rows(table), grid),
        outdoor,
    )


@dataclass(frozen=True)
class LastRead:
    """The newest reading of air and humidity at the work, °C, at a moment (UTC seconds)."""

    time_s: float
    air_temp_c: float
    dew_point_c: float


@dataclass(frozen=True, eq=False)
class Ground:
    """What is given: shop, its response, a forecast, its error model (None: no courses).

    `read` is the newest reading at the work, `area` the name the readings are kept under.
    """

    shop: Shop
    response: Response
    forecast: Forecast
    model: ErrorModel | None = None
    read: LastRead | None = None
    area: str = ""


def load_basis(store: Store, ground: Ground, span_s: tuple[float, float]) -> Basis:
    """Gather the weather from now to the end of `span_s`, and the shop's state now."""
    now_s, until_s = span_s
    forecast, response = ground.forecast, ground.response
    place, step = place_of(ground.shop), SCENARIO_STEP_S
    first_s = int(now_s) - STATE_DAYS * DAY_S
    sunny = _coming(forecast, place, now_s, min(until_s, now_s + MOST_DAYS * DAY_S))
    past = weather_until_now(store, forecast, place, first_s, now_s)
    whole = joined(
        to_grid(past, first_s, now_s, step),
        to_grid(sunny.hourly, max(first_s, sunny.hourly.start_s), sunny.hourly.end_s, step),
    )
    log = shop_log(store, _cut(whole, whole.start_s, now_s), ground.area)
    start = _start(response, log, whole, now_s, ground.read)
    central = _cut(whole, start.state.time_s, whole.end_s)
    courses = None if ground.model is None else _courses(sunny, ground.model, central, now_s)
    residual = None
    if courses is not None:
        count, n = courses.columns["air_temp_c"].shape
        residual = _residual(response, (count, n), step, _seed(forecast), known=start.known)
    notes = (*((start.note,) if start.note else ()), *forecast.notes)
    return Basis(ground.shop, place, response, forecast, Weather(central, courses), start.state,
                 now_s, start.fill_from_s, residual, notes, start.surface_known)  # fmt: skip


def _residual(
    response: Response, shape: tuple[int, int], step_s: int, seed: int, *, known: bool
) -> tuple[FloatArray, FloatArray]:
    """Return the response's own doubt [s, n]: nothing where the shop is known, else all of it."""
    count, n = shape
    skipped = 0 if known else DOUBT_WHOLE_S // step_s
    air, dew = residual_courses(response, n + skipped, step_s, count, seed)
    return air[:, skipped:], dew[:, skipped:]


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
    return weather.part(a, b)


def last_read(readings: Sequence[Reading], now_s: float) -> LastRead | None:
    """Return the newest reading that has air and humidity; None without one."""
    for reading in reversed(readings):
        air, rh = reading.air_temp_c, reading.rh_pct
        if air is not None and rh is not None and rh > 0.0 and reading.taken_s <= now_s:
            return LastRead(reading.taken_s, air, float(moist_air.dew_point_c(air, rh)))
    return None


@dataclass(frozen=True)
class _Start:
    """Where the shop's course begins, and whether its air is known there.

    `surface_known` is false where neither a reading nor the days before tell of any surface.
    """

    state: State
    fill_from_s: float
    known: bool
    note: str = ""
    surface_known: bool = True


def _start(
    response: Response, log: ShopLog, weather: Outdoor, now_s: float, read: LastRead | None
) -> _Start:
    """Begin where the log ends; else as last read; else run through the days before now."""
    seen = np.flatnonzero(np.isfinite(log.air_temp_c) & np.isfinite(log.dew_point_c))
    step, now_at = weather.step_s, int((now_s - weather.start_s) // weather.step_s)
    at_s = weather.start_s + now_at * step
    last = int(seen[-1]) if len(seen) else None
    if (
        last is not None
        and (now_at - last) * step <= LOG_ENDS_S
        and (_unbroken(weather, last, now_at))
    ):
        state = state_at_end(response, log)
        return _Start(state, state.time_s, known=True)
    still = _last_read(log, last, read)
    if still is not None and now_s - still.time_s <= LOG_ENDS_S:
        # A forecast may begin with the next full hour: until then the air stays as it was read.
        at_s += step * _steps_to_weather(weather, now_at)
        state = State.at_rest(at_s, still.air_temp_c, still.dew_point_c)
        fresh = now_s - still.time_s <= LONGEST_GAP_S
        return _Start(state, at_s, fresh, "" if fresh else STILL_NOTE)
    first = _unbroken_from(weather, now_at)
    air, dew = (float(np.mean(weather.column(n)[first : now_at + 1])) for n in DRIVERS)
    state = State.at_rest(weather.start_s + first * step, air, min(air, dew))
    return _Start(state, at_s, False, UNREAD_NOTE, (now_at - first) * step >= WARM_UP_S)


def _steps_to_weather(weather: Outdoor, now_at: int) -> int:
    """Return the steps from now to the first known weather; 0 where that is too far off."""
    known = np.logical_and.reduce([np.isfinite(weather.column(n)[now_at:]) for n in DRIVERS])
    found = np.flatnonzero(known)
    near = len(found) > 0 and int(found[0]) * weather.step_s <= LONGEST_GAP_S
    return int(found[0]) if near else 0


def _last_read(log: ShopLog, last: int | None, read: LastRead | None) -> LastRead | None:
    """Return the newer of the log's last reading and the one at the work."""
    if last is None:
        return read
    time_s = float(log.outdoor.time_s[last])
    logged = LastRead(time_s, float(log.air_temp_c[last]), float(log.dew_point_c[last]))
    return logged if read is None or read.time_s <= time_s else read


def _unbroken(weather: Outdoor, first: int, last: int) -> bool:
    """Whether air and dew point are known from one grid point to the other, short gaps aside."""
    return all(
        _longest_hole(weather.column(name)[first : last + 1]) * weather.step_s <= LONGEST_GAP_S
        for name in DRIVERS
    )


def _unbroken_from(weather: Outdoor, now_at: int) -> int:
    """Return the grid point from which on the weather is known all the way up to now."""
    known = np.logical_and.reduce([np.isfinite(weather.column(n)[: now_at + 1]) for n in DRIVERS])
    holes = np.flatnonzero(~known)
    return min(now_at, int(holes[-1]) + 1 if len(holes) else 0)


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
    columns = {}
    for name, values in central.columns.items():
        head = np.broadcast_to(values[:now_k], (count, now_k))
        many = np.concatenate((head, drawn.columns[name]), axis=1)
        columns[name] = many[:, : len(central)]
    return Outdoor(central.start_s, step, columns, central.derived)


def _seed(forecast: Forecast) -> int:
    """The same forecast draws the same courses, so that nothing flickers."""
    return int(forecast.issued_s or forecast.fetched_s) % 2**32
