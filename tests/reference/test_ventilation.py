"""Thinning out by air change, and the water air holds."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from CoolProp.HumidAirProp import HAPropsSI

from advisor.base.errors import RangeError
from advisor.physics import ventilation as vent
from advisor.physics.constants import AIR_WH_M3_K

FILE = Path(__file__).parents[1] / "data" / "checks" / "dilution_decay.csv"


def rows() -> list[dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows(), ids=lambda r: f"{r['N_1_h']}-{r['t_min']}min")
def test_decay_rows(row: dict[str, str]) -> None:
    changes, hours = float(row["N_1_h"]), float(row["t_min"]) / 60.0
    left = float(row["C_over_C0"])
    assert float(vent.share_left(changes, hours)) == pytest.approx(left, rel=1e-5)  # six digits
    assert float(vent.hours_until(left, changes)) == pytest.approx(hours, rel=1e-4)
    assert float(vent.air_changes_needed(left, hours)) == pytest.approx(changes, rel=1e-4)


def test_times_to_one_percent() -> None:
    # Computed: 10 changes an hour 27.63 min; 9.21 an hour for 30 min, 55.3 for 5 min.
    assert 60.0 * float(vent.hours_until(0.01, 10.0)) == pytest.approx(27.63, abs=0.005)
    assert float(vent.air_changes_needed(0.01, 0.5)) == pytest.approx(9.21, abs=0.005)
    assert float(vent.air_changes_needed(0.01, 5.0 / 60.0)) == pytest.approx(55.3, abs=0.05)


def test_poor_mixing_takes_that_many_times_as_long() -> None:
    assert float(vent.hours_until(0.05, 4.0, 3.0)) == pytest.approx(
        3.0 * float(vent.hours_until(0.05, 4.0))
    )
    assert float(vent.air_changes_needed(0.05, 2.0, 3.0)) == pytest.approx(
        3.0 * float(vent.air_changes_needed(0.05, 2.0))
    )
    assert float(vent.share_left(4.0, 3.0, 3.0)) == pytest.approx(float(vent.share_left(4.0, 1.0)))


def test_no_air_change_never_clears() -> None:
    assert float(vent.hours_until(0.5, 0.0)) == np.inf
    assert float(vent.hours_until(1.0, 0.0)) == 0.0


@pytest.mark.parametrize(
    ("air_c", "dew_c"), [(20.0, 9.27), (20.0, 17.4), (10.0, 6.71), (5.0, 1.84), (30.0, 14.94)]
)
def test_vapour_against_coolprop(air_c: float, dew_c: float) -> None:
    # CoolProp's real-gas humid air (Hyland–Wexler, virial): the enhancement of 0.4 % and MetPy's
    # saturation, 0.2 % low, make 0.8 %.
    kelvin = air_c + 273.15
    ratio = HAPropsSI("W", "T", kelvin, "D", dew_c + 273.15, "P", 101325.0)
    volume = HAPropsSI("V", "T", kelvin, "D", dew_c + 273.15, "P", 101325.0)  # per kg dry air
    expected = 1000.0 * ratio / volume
    assert float(vent.vapour_g_m3(air_c, dew_c)) == pytest.approx(expected, rel=0.008)


def test_the_most_that_air_holds() -> None:
    assert vent.saturated_g_m3(20.0) == pytest.approx(17.3, abs=0.05)  # common tables: 17.3 g/m³


def test_source_and_air_change() -> None:
    # Without air change vapour rises in a line; with it towards ρ_out + S/N.
    assert float(vent.vapour_after_g_m3(8.0, 5.0, 2.0, 0.0, 3.0)) == pytest.approx(14.0)
    assert float(vent.vapour_after_g_m3(8.0, 5.0, 2.0, 0.5, 100.0)) == pytest.approx(9.0)
    assert float(vent.vapour_after_g_m3(8.0, 5.0, 2.0, 1e-9, 3.0)) == pytest.approx(14.0, abs=1e-6)


def test_heat_that_leaves_with_air() -> None:
    # 0.335 Wh/(m³ K), the 1/3 of the trade: 200 m³ at one change an hour is 67 W/K.
    assert pytest.approx(0.335) == AIR_WH_M3_K
    assert vent.heat_lost_w_per_k(1.0, 200.0) == pytest.approx(67.0, abs=0.2)


@pytest.mark.parametrize("share", [0.0, 1.5, -0.1, np.nan])
def test_refused_shares(share: float) -> None:
    with pytest.raises(RangeError, match="share left"):
        vent.hours_until(share, 1.0)


def test_refused() -> None:
    with pytest.raises(RangeError, match="mixing"):
        vent.share_left(1.0, 1.0, 0.5)
    with pytest.raises(RangeError, match="hours"):
        vent.air_changes_needed(0.1, 0.0)
