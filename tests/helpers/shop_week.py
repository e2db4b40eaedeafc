"""An invented shop, its weather and a week of coats, for the tests of the what-ifs."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from advisor.climate.area_air import AreaAir
from advisor.climate.area_surface import indoor_surface_c
from advisor.climate.outdoor import Outdoor
from advisor.climate.series import Series
from advisor.climate.shop.response import State, simulate, usual_response
from advisor.climate.shop.shop import Shop, ShopKind
from advisor.coatings.product import Limits, NextCoat, Product
from advisor.planning.job import Area, Coat, Job, Laid
from advisor.planning.words import Words
from advisor.work.days import Week
from advisor.work.what_if import Setting, prepare
from tests.helpers.products import DAY_S, HOUR_S, MONDAY_S, gloss

NOW_S = MONDAY_S + 8 * HOUR_S
ZONE = ZoneInfo("Europe/London")


def outdoor(
    mean_c: float = 12.0,
    swing_k: float = 4.0,
    dew_c: float = 8.0,
    days: int = 10,
    dew_swing_k: float = 0.0,
) -> Outdoor:
    """Weather on 15 minutes from NOW_S: warmest at 15:00 UTC, dew point about level."""
    time = NOW_S + 900 * np.arange(days * 96 + 1)
    wave = np.cos((time % DAY_S - 15 * HOUR_S) * (2 * np.pi / DAY_S))
    air = mean_c + swing_k * wave
    dew = np.minimum(dew_c + dew_swing_k * wave, air - 0.2)
    sun = 500.0 * np.maximum(0.0, np.cos((time % DAY_S - 12 * HOUR_S) * (2 * np.pi / DAY_S)))
    return Outdoor(NOW_S, 900, {"air_temp_c": air, "dew_point_c": dew, "sun_w_m2": sun})


def keen_gloss(
    limits: Limits | None = None, tape_dry: tuple[float, float, float] = (16.0, 8.0, 4.0)
) -> Product:
    """Two-part gloss that goes over itself from 8 h on; dew-safe when tape-dry."""
    found = limits or Limits(air_temp_c=(5.0, 35.0), surface_temp_c=(10.0, 35.0),
                             rh_pct=(0.0, 80.0))  # fmt: skip
    rows = (NextCoat("same", (12.0, 8.0, 4.0), (float("inf"),) * 3),)
    plain = gloss(limits=found, next_coats=rows)
    columns = {**plain.times.columns, "tape_dry_h": tape_dry}
    return replace(plain, id="keen-gloss", times=replace(plain.times, columns=columns))


def setting(
    weather: Outdoor | None = None,
    *,
    kind: ShopKind = "timber shed",
    volume_m3: float = 200.0,
    coats: int = 2,
    product: Product | None = None,
    outdoors: bool = False,
    working_hours: str = "",
    first_dew_c: float | None = None,
    laid: bool = False,
) -> Setting:
    """Return a prepared week: coats by turns on two areas, nothing laid yet.

    `first_dew_c` is the shop's own dew point at NOW_S, else that of the air outdoors. `laid`: the
    first coat went on in the last hour.
    """
    weather = weather or outdoor()
    shop = Shop(kind, volume_m3)
    response = usual_response(shop)
    air_c, dew_c = (float(weather.columns[name][0]) for name in ("air_temp_c", "dew_point_c"))
    state = State.at_rest(NOW_S, max(air_c, first_dew_c or -99.0), first_dew_c or dew_c)
    areas = (
        Area("port", "port side", 9.0, outdoors=outdoors),
        Area("deck", "deck", 6.0, "plywood", outdoors=outdoors),
    )
    own = product or keen_gloss()
    job = Job("gig", "invented gig", "shed", "Europe/London", areas, tuple(
        Coat(f"coat-{k}", f"coat {k}", areas[k % 2].id, own.id, 9.0) for k in range(coats)
    ), working_hours, None, shop)  # fmt: skip
    if laid:
        job = job.with_coat(replace(job.coats[0], laid=Laid(NOW_S - 3600.0, NOW_S)))
    indoor = simulate(response, weather, state)
    airs = {a.id: AreaAir(_series(weather, indoor.air_temp_c, indoor.dew_point_c, a))
            for a in areas}  # fmt: skip
    words = Words("metric", ZONE, NOW_S)
    week = Week(job, {own.id: own}, airs["port"].series, words, NOW_S, 7, areas=airs)
    return prepare(week, shop, response, weather, state)


def _series(weather: Outdoor, air: np.ndarray, dew: np.ndarray, area: Area) -> Series:
    grid = np.arange(NOW_S, weather.end_s + 1, 300)
    surface = indoor_surface_c(area.skin, air, weather.step_s / 3600.0)
    laid = (np.interp(grid, weather.time_s, values) for values in (air, dew, surface))
    calm = np.zeros(len(grid))
    return Series(NOW_S, *laid, wind_m_s=calm, rain_mm=calm, lead_from_s=NOW_S)
