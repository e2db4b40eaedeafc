"""Thermal lag against closed solutions, a differential-equation solver and computed rows."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from advisor.physics.surfaces import LUMPED_BIOT, biot, first_order_lag, lumped_time_constant_h

FILE = Path(__file__).parents[1] / "data" / "checks" / "thermal_lag.csv"
#: Steel 10 mm, 7850 kg/m³, 460 J/kgK, 8 W/m²K: computed 4513.75 s.
TAU_H = 4513.75 / 3600.0


def rows() -> list[dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    "row", rows(), ids=lambda row: f"{row['material']}-{row['thickness_mm']}mm-{row['h_w_m2_k']}"
)
def test_time_constants_and_biot_numbers(row: dict[str, str]) -> None:
    thickness_m, h = float(row["thickness_mm"]) / 1000.0, float(row["h_w_m2_k"])
    tau = lumped_time_constant_h(
        float(row["density_kg_m3"]), float(row["heat_capacity_j_kg_k"]), thickness_m, h
    )
    number = biot(h, thickness_m, float(row["conductivity_w_m_k"]))
    assert tau * 3600.0 == pytest.approx(float(row["tau_s"]), abs=0.06)  # printed to 0.1 s
    assert number == pytest.approx(float(row["biot"]), abs=6e-5)  # printed to four decimals
    assert (number < LUMPED_BIOT) == (row["lumped"] == "lumped ok")
    # What remains of a step after one hour, printed to five decimals.
    assert math.exp(-1.0 / tau) == pytest.approx(float(row["residual_fraction_after_1h"]), abs=2e-5)


def test_steel_plate_time_constant() -> None:
    assert lumped_time_constant_h(7850, 460, 0.010, 8.0) == pytest.approx(TAU_H, rel=1e-12)


def test_step_from_5_to_20() -> None:
    # Exponential approach: 13.24362 °C after an hour (computed, checked with an ODE solver).
    # The grid turns the step into a ramp of 1 s, half a second late on average: 0.0009 K.
    air = np.full(3602, 20.0)
    air[0] = 5.0
    found = first_order_lag(air, 1.0 / 3600.0, TAU_H)
    assert found[3600] == pytest.approx(13.24362, abs=0.002)


def test_ramp() -> None:
    # 2 K/h: after 2 h the plate has risen 2.00112 K; the steady lag is 2.50764 K. The answer is
    # exact for a ramp, so the tolerance is the five printed decimals, at any step.
    for step in (2.0, 0.5, 1.0 / 12.0):
        air = 2.0 * np.arange(0.0, 40.0 + step / 2, step)
        found = first_order_lag(air, step, TAU_H)
        assert found[round(2.0 / step)] == pytest.approx(2.00112, abs=6e-6)
        assert air[-1] - found[-1] == pytest.approx(2.50764, abs=6e-6)


def test_daily_sine() -> None:
    # Amplitude 0.95012, 72.69 min late, once the start has faded (10 days, e^-190).
    # A minute grid of straight pieces flattens a daily sine by 2e-6.
    minutes = np.arange(0, 11 * 1440)
    air = np.sin(2.0 * np.pi * minutes / 1440.0)
    last_day = first_order_lag(air, 1.0 / 60.0, TAU_H)[-1440:]
    wave = np.fft.rfft(last_day)[1] / 720.0
    late_min = (-np.angle(wave) - np.pi / 2) % (2 * np.pi) * 1440.0 / (2 * np.pi)
    assert abs(wave) == pytest.approx(0.95012, abs=1e-5)
    assert late_min == pytest.approx(72.69, abs=0.006)


def test_against_an_ode_solver_on_ragged_air() -> None:
    air = np.random.default_rng(3).normal(10.0, 3.0, 40)
    hours = np.arange(40) * 0.5
    solved = solve_ivp(
        lambda t, y: (np.interp(t, hours, air) - y) / TAU_H,
        (0.0, hours[-1]),
        [air[0]],
        t_eval=hours,
        rtol=1e-9,
        atol=1e-9,
        max_step=0.05,
    )
    # The solver's own error; 1e-6 K is far above it and far below any use.
    assert first_order_lag(air, 0.5, TAU_H) == pytest.approx(solved.y[0], abs=1e-6)
