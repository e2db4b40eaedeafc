"""Sol-air temperature and clear-night plates against computed rows and published bands."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from advisor.base.errors import RangeError
from advisor.climate.skin import COLOURS
from advisor.physics.outside_surface import balance, sky_share, sol_air_c, wind_coefficient
from advisor.physics.sky import berdahl_martin, sky_temp_c

CHECKS = Path(__file__).parents[1] / "data" / "checks"


def rows(name: str) -> list[dict[str, str]]:
    with (CHECKS / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("solair.csv"), ids=lambda r: f"{r['I_W_m2']}-{r['alpha']}")
def test_sol_air_rows(row: dict[str, str]) -> None:
    value = {name: float(x) for name, x in row.items() if name != "source"}
    found = sol_air_c(
        value["air_C"], value["I_W_m2"], value["alpha"], value["ho_W_m2K"], value["dR_W_m2"],
        value["eps"],
    )  # fmt: skip
    assert float(found) == pytest.approx(value["solair_C"], abs=6e-5)  # four decimals printed


def test_handbook_sky_correction() -> None:
    # ASHRAE: h 3.0 Btu/h ft² F (17.03), ΔR 20 Btu/h ft² (63.1): −7 F, printed 3.9 K.
    assert 3.7 <= 20.0 - float(sol_air_c(20.0, 0.0, 0.9, 17.03, 63.1)) <= 3.9


def test_light_and_dark_of_the_tables_are_not_absorptances() -> None:
    # Known slip: "0.15 light, 0.30 dark" are α/h in h ft² F/Btu; α is 0.45 and 0.90.
    h_imperial = 3.0
    assert (0.15 * h_imperial, 0.30 * h_imperial) == pytest.approx((0.45, 0.90))
    right = float(sol_air_c(35.0, 900.0, 0.9, 17.0, 63.0))
    slipped = float(sol_air_c(35.0, 900.0, 0.3, 17.0, 63.0))
    assert right == pytest.approx(78.94, abs=0.005)
    assert right - slipped > 30.0
    # Our colours are absorptances: measured white paints 0.19–0.25, grey 0.87, black 0.975.
    assert COLOURS["dark"] > 0.8
    assert COLOURS["black"] > 0.9
    assert 0.19 <= COLOURS["white"] <= 0.3
    assert list(COLOURS.values()) == sorted(COLOURS.values())


def test_a_percentage_is_refused() -> None:
    with pytest.raises(RangeError, match="absorptance: found 60; accepted: 0 to 1"):
        sol_air_c(20.0, 500.0, 60.0, 17.0)


@pytest.mark.parametrize(
    "row",
    rows("night_undercooling.csv"),
    ids=lambda r: f"{r['air_C']}C-h{r['hc_W_m2K']}-e{r['emissivity']}",
)
def test_insulated_plate_on_a_clear_night(row: dict[str, str]) -> None:
    air = float(row["air_C"])
    # The dew point is printed to 0.01: 5e-5 of emissivity, 0.003 K of plate; three decimals.
    cold = sky_temp_c(air, berdahl_martin(float(row["dewpoint_C"])))
    plate, _ = balance(air, cold, float(row["hc_W_m2K"]), emissivity=float(row["emissivity"]))
    assert float(plate) == pytest.approx(float(row["surface_C"]), abs=0.005)


def test_published_bands_of_a_clear_night() -> None:
    # A damp night (10 °C, 80 %), level plate, calm to a fresh breeze: 3 to 11 K below air.
    # Metal cladding in the wind it is designed for: up to 5 K below (New Zealand roofing code).
    wind = np.array([0.0, 1.0, 2.0, 4.0])
    cold = sky_temp_c(10.0, berdahl_martin(6.71))
    plate, _ = balance(10.0, cold, wind_coefficient(wind))
    below = 10.0 - plate
    assert np.all((below >= 3.0) & (below <= 11.0))
    assert np.all(np.diff(below) < 0.0)
    assert below[2] == pytest.approx(5.0, abs=0.6)
    # A steep wall, the sky only half before it, stays nearer air.
    wall, _ = balance(10.0, cold, wind_coefficient(2.0), share_of_sky=sky_share(90.0))
    assert 1.0 < 10.0 - float(wall) < 2.5
    # It wets whatever the wind: colder than its dew point of 6.71 °C up to 4 m/s.
    assert np.all(plate < 6.71 + 0.01)


def test_colour_does_not_matter_at_night() -> None:
    # Cottony & Dill 1941 (NBS BMS 64): painted surfaces fall alike, foil least.
    cold = sky_temp_c(10.0, berdahl_martin(6.71))
    painted, _ = balance(10.0, cold, 8.0, emissivity=0.9)
    foil, _ = balance(10.0, cold, 8.0, emissivity=0.04)
    assert float(painted) < float(foil) - 4.0


def test_the_balance_is_sol_air_where_the_plate_is_near_air() -> None:
    # The linear form (ASHRAE) with h = h_c + 4 ε σ T³ and ΔR = σ (T⁴ − T_sky⁴) must meet the
    # whole one for small differences: 1 K off air leaves 1e-2 K (the second-order term).
    air, h_c = 15.0, 20.0
    plate, h = balance(air, air - 3.0, h_c, gained_w_m2=40.0)
    lost = 5.670374419e-8 * ((air + 273.15) ** 4 - (air + 270.15) ** 4)
    linear = sol_air_c(air, 40.0, 1.0, float(h), lost, emissivity=0.9)
    assert float(plate) == pytest.approx(float(linear), abs=0.01)


def test_outside_resistance_of_walls() -> None:
    # ISO 6946 Rse 0.04 at 4 m/s with radiation: h 25; CIBSE A3 0.06 normal (16.7), 0.08
    # sheltered (12.5). Ours with radiation of 10 °C paint lies in these at 4, 2 and 1 m/s.
    found = wind_coefficient([4.0, 2.0, 1.0]) + balance(10.0, 10.0, 1.0)[1] - 1.0
    assert found == pytest.approx([25.0, 16.7, 12.5], rel=0.03)
