"""Sky emissivity and temperature against computed rows of published formulas, and known slips."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from advisor.physics import sky

FILE = Path(__file__).parents[1] / "data" / "checks" / "sky_temperature.csv"


def rows() -> list[dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['air_C']}C-{row['rh_pct']}pct")
def test_rows(row: dict[str, str]) -> None:
    air, dew = float(row["air_C"]), float(row["dewpoint_C"])
    # Emissivity printed to four decimals, temperature to 0.01 °C; the dew point, rounded to
    # 0.01, moves emissivity by 5e-5 and temperature by 0.005 K more.
    for found, name, temp in (
        (sky.berdahl_martin(dew), "eps_BerdahlMartin", "Tsky_BM_C"),
        (sky.clark_allen(dew), "eps_ClarkAllen", "Tsky_CA_C"),
    ):
        assert float(found) == pytest.approx(float(row[name]), abs=1e-4)
        assert float(sky.sky_temp_c(air, found)) == pytest.approx(float(row[temp]), abs=0.015)


def test_the_models_make_a_band() -> None:
    # 20 °C, 50 %: 1.39 and 5.21 °C, models 4 K apart (computed rows).
    cold, warm = sky.sky_band_c(20.0, 9.27)
    assert (float(cold), float(warm)) == pytest.approx((1.39, 5.21), abs=0.015)


def test_cloud_cubic_has_the_right_signs() -> None:
    # Clark & Allen 1978 with N = 10: 1.154. Known slips: +0.0035 gives 1.854, 0.0028 3.674.
    assert float(sky.cloud_multiplier(100.0)) == pytest.approx(1.154, abs=1e-12)
    assert float(sky.cloud_multiplier(0.0)) == 1.0
    plus, hundred = (
        1.0 + 0.0224 * 10 + 0.0035 * 100 + 0.00028 * 1000,
        1.0 + 0.0224 * 10 - 0.0035 * 100 + 0.0028 * 1000,
    )
    assert (plus, hundred) == pytest.approx((1.854, 3.674))


def test_dew_point_is_taken_over_273_not_over_air() -> None:
    # Known slip: ln(Td/T_air) makes emissivity 0.758 at 20 °C and 50 %; the row says 0.8129.
    wrong = 0.787 + 0.764 * np.log((9.27 + 273.15) / 293.15)
    assert wrong == pytest.approx(0.7585, abs=1e-3)
    assert float(sky.clark_allen(9.27)) - wrong > 0.05


def test_a_temperature_not_a_flux() -> None:
    # Known slip: an example prints 339.0856 K for air at 293 K: that is the flux
    # 1.22 σ T⁴ − 171 in W/m² (Swinbank's kind of formula); the temperature is 278.0 K.
    air_k = 293.0
    flux = 1.22 * sky.SIGMA * air_k**4 - 171.0
    assert flux == pytest.approx(339.0856, abs=0.3)  # 293 K is rounded: 0.04 K of air
    emissivity = flux / (sky.SIGMA * air_k**4)
    found_k = float(sky.sky_temp_c(air_k - 273.15, emissivity)) + 273.15
    assert found_k == pytest.approx(278.0, abs=0.1)


def test_hour_and_pressure_terms() -> None:
    # Berdahl & Martin 1984: + 0.013 cos(2πh/24) + 0.00012 (p − 1000).
    plain = float(sky.berdahl_martin(5.0))
    assert float(sky.berdahl_martin(5.0, hour=0.0)) - plain == pytest.approx(0.013)
    assert float(sky.berdahl_martin(5.0, hour=12.0)) - plain == pytest.approx(-0.013)
    assert float(sky.berdahl_martin(5.0, pressure_hpa=900.0)) - plain == pytest.approx(-0.012)
