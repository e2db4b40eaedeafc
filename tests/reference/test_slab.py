"""Conducting slabs against closed solutions, published roots and a differential-equation solver."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.special import erfc

from advisor.base.errors import RangeError
from advisor.physics import slab as slabs
from advisor.physics.slab import Slab, changing_coefficient_c, steady_coefficient_c
from advisor.physics.surfaces import first_order_lag

FILE = Path(__file__).parents[1] / "data" / "checks" / "thermal_lag.csv"
SPRUCE = Slab(450.0, 1700.0, 0.13, 0.022)
PLY = Slab(700.0, 1600.0, 0.17, 0.012)
CONCRETE = Slab(2300.0, 880.0, 1.65, 0.15)
STEEL = Slab(7850.0, 460.0, 50.0, 0.010)
THIN_STEEL = Slab(7850.0, 460.0, 50.0, 0.004)


def rows() -> list[dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize(
    "row", rows(), ids=lambda row: f"{row['material']}-{row['thickness_mm']}mm-{row['h_w_m2_k']}"
)
def test_lumped_or_not_is_chosen_by_the_biot_number(row: dict[str, str]) -> None:
    piece = Slab(
        float(row["density_kg_m3"]),
        float(row["heat_capacity_j_kg_k"]),
        float(row["conductivity_w_m_k"]),
        float(row["thickness_mm"]) / 1000.0,
    )
    h = float(row["h_w_m2_k"])
    assert piece.is_lumped(h) == (row["lumped"] == "lumped ok")
    if piece.is_lumped(h):
        # What is left of a step after an hour, printed to five decimals.
        left = float(row["residual_fraction_after_1h"])
        for face in (
            steady_coefficient_c(piece, np.zeros(2), 1.0, h, start_c=1.0),
            changing_coefficient_c(piece, np.zeros(2), 1.0, h, start_c=1.0),
        ):
            assert face[1] == pytest.approx(left, abs=2e-5)


def test_steel_is_the_lag_of_plates() -> None:
    air = np.random.default_rng(5).normal(10.0, 3.0, 300)
    tau_h = STEEL.time_constant_h(8.0)
    assert tau_h * 3600.0 == pytest.approx(4513.75, abs=0.01)  # 10 mm steel, computed row
    expected = first_order_lag(air, 0.25, tau_h)
    assert steady_coefficient_c(STEEL, air, 0.25, 8.0) == pytest.approx(expected, abs=1e-11)
    assert changing_coefficient_c(STEEL, air, 0.25, 8.0) == pytest.approx(expected, abs=1e-11)


@pytest.mark.parametrize(
    ("biot", "zeta", "amplitude"),
    [(0.1, 0.3111, 1.0160), (1.0, 0.8603, 1.1191), (10.0, 1.4289, 1.2620)],
)
def test_one_term_table(biot: float, zeta: float, amplitude: float) -> None:
    # Plane wall, first root and coefficient as printed in heat transfer textbooks (from memory):
    # at a Fourier number of 1 the other terms are under 1e-4 (Bi 10: e^(−18.5)).
    depth, diffusivity = 0.05, 1e-6
    piece = Slab(1000.0, 1000.0, 1.0, depth)
    hour_of_fo_1 = depth**2 / diffusivity / 3600.0
    h = biot / depth * (1.0 + 1e-9)  # a hair above 0.1, so that it is taken as a slab
    face = steady_coefficient_c(piece, np.zeros(2), hour_of_fo_1, h, start_c=1.0)[1]
    expected = amplitude * math.exp(-(zeta**2)) * math.cos(zeta)
    assert face == pytest.approx(expected, abs=2e-4)  # roots to four decimals


def test_roots_solve_their_equation() -> None:
    for biot in (0.1, 0.5, 3.0, 40.0):
        zeta = slabs._roots(biot)
        assert zeta * np.sin(zeta) == pytest.approx(biot * np.cos(zeta), abs=1e-9 * (1 + biot))
        assert np.all((zeta > np.pi * np.arange(8)) & (zeta < np.pi * (np.arange(8) + 0.5)))


@pytest.mark.parametrize("minutes", [5.0, 15.0, 40.0])
def test_a_thick_slab_is_half_infinite_at_first(minutes: float) -> None:
    # Carslaw & Jaeger 2.7: face of a half-infinite solid after a step of the air,
    # 1 − e^(h²at/k²) erfc(h √(at)/k). The back of 300 mm concrete is not felt within the hour:
    # e^(−L²/4at) < 1e-5. Eight modes leave 2 % of the first minutes to the instant part.
    piece, h = Slab(2300.0, 880.0, 1.65, 0.3), 10.0
    diffusivity = 1.65 / (2300.0 * 880.0)
    root = h * math.sqrt(diffusivity * minutes * 60.0) / 1.65
    expected = 1.0 - math.exp(root**2) * erfc(root)
    face = steady_coefficient_c(piece, np.ones(2), minutes / 60.0, h, start_c=0.0)[1]
    assert face == pytest.approx(expected, abs=2e-3)
    fine = changing_coefficient_c(piece, np.ones(241), minutes / 240.0 / 60.0, h, start_c=0.0)[-1]
    assert fine == pytest.approx(expected, abs=0.02)


def by_lines(piece: Slab, hours: np.ndarray, drive: np.ndarray, h: np.ndarray) -> np.ndarray:
    """The face by the method of lines: 60 cells, SciPy's stiff solver."""
    cells = 60
    dx = piece.depth_m / cells
    store = piece.density_kg_m3 * piece.heat_capacity_j_kg_k * dx
    link = piece.conductivity_w_m_k / dx

    def face(t: float, cell: np.ndarray) -> float:
        coefficient = np.interp(t, hours, h)
        half = 2.0 * link
        return (coefficient * np.interp(t, hours, drive) + half * cell[0]) / (coefficient + half)

    def slope(t: float, cell: np.ndarray) -> np.ndarray:
        flow = np.diff(cell) * link
        into = np.append(flow, 0.0) - np.insert(flow, 0, 0.0)
        into[0] += 2.0 * link * (face(t, cell) - cell[0])
        return into * 3600.0 / store

    solved = solve_ivp(
        slope, (hours[0], hours[-1]), np.full(cells, drive[0]), "BDF", hours, rtol=1e-7, atol=1e-8,
        max_step=hours[1] - hours[0],
    )  # fmt: skip
    return np.array([face(t, cell) for t, cell in zip(hours, solved.y.T, strict=True)])


@pytest.mark.parametrize("piece", [SPRUCE, PLY, CONCRETE], ids=["spruce", "ply", "concrete"])
def test_ragged_air_against_the_method_of_lines(piece: Slab) -> None:
    # 60 cells leave 2e-3 K themselves; the series is exact for the linear drive.
    hours = np.arange(0.0, 24.1, 0.5)
    drive = 10.0 + 5.0 * np.sin(hours / 4.0) + np.random.default_rng(2).normal(0.0, 0.7, len(hours))
    expected = by_lines(piece, hours, drive, np.full(len(hours), 7.7))
    found = steady_coefficient_c(piece, drive, 0.5, 7.7)
    assert found == pytest.approx(expected, abs=0.015)


@pytest.mark.parametrize("piece", [SPRUCE, PLY, CONCRETE], ids=["spruce", "ply", "concrete"])
def test_changing_wind_against_the_method_of_lines(piece: Slab) -> None:
    # Heat flow taken as linear within a quarter of an hour: 0.15 K at the corners of a drive
    # that turns by 6 K an hour under a coefficient that doubles; 0.03 K on average.
    hours = np.arange(0.0, 24.1, 0.25)
    drive = 15.0 + 10.0 * np.sin(hours / 3.0)
    h = 12.0 + 6.0 * np.cos(hours)
    expected = by_lines(piece, hours, drive, h)
    found = changing_coefficient_c(piece, drive, 0.25, h)
    assert found == pytest.approx(expected, abs=0.15)
    assert np.abs(found - expected).mean() < 0.03


def test_air_on_both_sides_is_half_the_depth() -> None:
    # By symmetry no heat crosses the middle.
    whole, half = Slab(700.0, 1600.0, 0.17, 0.012, "same air"), Slab(700.0, 1600.0, 0.17, 0.006)
    air = np.random.default_rng(1).normal(12.0, 2.0, 100)
    assert np.array_equal(
        steady_coefficient_c(whole, air, 0.25, 7.7), steady_coefficient_c(half, air, 0.25, 7.7)
    )


def test_a_board_moves_before_the_lump_it_is_not() -> None:
    # Wood of 6 mm and more at h 7.7 has Bi over 0.1 and its face leads the lumped answer.
    lumped = math.exp(-0.25 / SPRUCE.time_constant_h(7.7))
    face = steady_coefficient_c(SPRUCE, np.ones(2), 0.25, 7.7, start_c=0.0)[1]
    assert face > (1.0 - lumped) + 0.15


@pytest.mark.parametrize("piece", [SPRUCE, PLY, CONCRETE, STEEL])
def test_scenarios_and_holes(piece: Slab) -> None:
    air = np.random.default_rng(8).normal(10.0, 3.0, (6, 400))
    air[2, 10:13] = np.nan
    wind = np.linspace(5.0, 25.0, 400)
    for reckon, h in ((steady_coefficient_c, 9.0), (changing_coefficient_c, wind)):
        whole = reckon(piece, air, 0.25, h)
        blank = np.isnan(whole)
        assert not blank[[0, 1, 3, 4, 5]].any()
        assert blank[2, 10:14].all()
        first = int(np.flatnonzero(~blank[2, 10:])[0]) + 10
        assert not blank[2, first:].any()
        # Three time constants: a lump is its own, a slab's slowest mode a little slower.
        wait_h = (first - 13) * 0.25
        mean_h = float(np.mean(h))
        assert 0.0 <= wait_h - 3.0 * piece.time_constant_h(mean_h) <= 0.5 * wait_h + 0.25
    for row, alone in zip(whole, air, strict=True):
        single = changing_coefficient_c(piece, alone, 0.25, wind)
        known = np.isfinite(row) & np.isfinite(single)
        # How long is blank goes by the mean wind where anything is known; a point apart at most.
        assert abs(int(np.isnan(row).sum()) - int(np.isnan(single).sum())) <= 1
        assert row[known] == pytest.approx(single[known], abs=1e-12)


@pytest.mark.parametrize(
    ("piece", "least_h", "most_h"), [(CONCRETE, 16.0, 30.0), (THIN_STEEL, 0.25, 1.0)]
)
def test_after_a_hole_nothing_is_told_until_it_is_forgotten(
    piece: Slab, least_h: float, most_h: float
) -> None:
    """A sunny slab whose drive falls by 25 K in a hole of 4 h: never far from the whole truth.

    Three time constants leave e^−3 of what was missed, 1.2 of 25 K at the very worst; here the
    piece has followed half way, so half of that. A quarter more for the other modes.
    """
    hours = np.arange(0.0, 96.0, 0.25)
    drive = 15.0 + 12.5 * np.tanh((20.0 - hours) / 1.0)
    truth = steady_coefficient_c(piece, drive, 0.25, 15.0)
    broken = np.where((hours >= 18.0) & (hours < 22.0), np.nan, drive)
    for found in (
        steady_coefficient_c(piece, broken, 0.25, 15.0),
        changing_coefficient_c(piece, broken, 0.25, np.full(len(hours), 15.0)),
    ):
        blank_h = hours[np.isnan(found)]
        assert blank_h[0] == 18.0
        assert least_h <= blank_h[-1] + 0.25 - 22.0 <= most_h
        assert np.nanmax(np.abs(found - truth)) < 0.8
    # What was told at 22 h by a piece starting at the drive: the fault this guards against.
    afresh = steady_coefficient_c(piece, drive[hours >= 22.0], 0.25, 15.0)[0]
    assert piece is THIN_STEEL or abs(afresh - truth[hours == 22.0][0]) > 7.0


def test_a_start_that_was_told_is_lost_in_a_hole_too() -> None:
    drive = np.full(400, 5.0)
    drive[:8] = np.nan
    for reckon in (steady_coefficient_c, changing_coefficient_c):
        assert not np.isnan(reckon(CONCRETE, drive, 0.25, 15.0)[8:]).any()
        told = reckon(CONCRETE, drive, 0.25, 15.0, start_c=20.0)
        assert np.isnan(told[: 8 + 4 * 16]).all()
        assert np.isfinite(told[-1])


@pytest.mark.parametrize("thickness_m", [0.001, 0.003, 0.012])
@pytest.mark.parametrize("h", [5.0, 60.0])
def test_thin_boards_in_wind_do_not_ring(thickness_m: float, h: float) -> None:
    # After a step up the face must rise without overshoot, at any step of the grid.
    piece = Slab(700.0, 1600.0, 0.05, thickness_m)
    drive = np.concatenate([np.zeros(2), np.full(30, 10.0)])
    for step_h in (1.0 / 12.0, 0.25, 1.0):
        face = changing_coefficient_c(piece, drive, step_h, h)
        assert face.max() <= 10.0 + 1e-6
        assert np.all(np.diff(face) >= -1e-6)


def test_refused() -> None:
    with pytest.raises(RangeError, match="step_h"):
        steady_coefficient_c(PLY, [1.0, 2.0], 0.0, 7.7)
    with pytest.raises(RangeError, match="h_w_m2_k"):
        changing_coefficient_c(PLY, [1.0, 2.0], 0.5, [7.7, 0.0])
    with pytest.raises(RangeError, match="drive_c"):
        steady_coefficient_c(PLY, 3.0, 0.5, 7.7)


def test_empty_series() -> None:
    assert steady_coefficient_c(PLY, [], 0.5, 7.7).shape == (0,)
    assert changing_coefficient_c(PLY, [], 0.5, 7.7).shape == (0,)
