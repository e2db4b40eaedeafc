"""Spread of the margin against values computed elsewhere (PsychroLib 2.5.0 saturation)."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from advisor.physics.uncertainty import SensorSpread, margin_sd_k, wet_point_slopes

FILE = Path(__file__).parents[1] / "data" / "checks" / "error_propagation.csv"


def rows() -> list[dict[str, str]]:
    with FILE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def cell(row: dict[str, str]) -> tuple[float, float]:
    return float(row["air_temp_c"]), float(row["rh_pct"])


@pytest.mark.parametrize("row", rows(), ids=lambda row: f"{row['air_temp_c']}C-{row['rh_pct']}pct")
def test_slopes(row: dict[str, str]) -> None:
    # 0.4 %: Magnus against Hyland–Wexler, and four printed decimals.
    per_rh, per_k = wet_point_slopes(*cell(row))
    assert per_rh == pytest.approx(float(row["k_per_pct"]), rel=0.004)
    assert per_k == pytest.approx(float(row["k_per_k"]), rel=0.004)


@pytest.mark.parametrize(
    ("column", "spread"),
    [
        ("sd_2pct_0.3k", SensorSpread(0.3, 2.0, 0.0, False)),
        ("sd_3pct_0.5k", SensorSpread(0.5, 3.0, 0.0, False)),
        ("margin_sd_2pct_0.3k_0.5k", SensorSpread(0.3, 2.0, 0.5, False)),
        ("margin_sd_3pct_0.5k_1k", SensorSpread(0.5, 3.0, 1.0, False)),
    ],
)
def test_spread_of_dew_point_and_margin(column: str, spread: SensorSpread) -> None:
    for row in rows():
        # 0.005 K: 0.4 % of the slope, and three printed decimals.
        assert margin_sd_k(*cell(row), spread) == pytest.approx(float(row[column]), abs=0.005)
