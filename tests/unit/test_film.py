"""Film build by hand-worked figures, and its refusals."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import RangeError
from advisor.coatings.film import (
    area_m2,
    dft_um,
    litres,
    spread_m2_per_l,
    thinner_share,
    wet_film_um,
    wft_um,
)
from advisor.coatings.product import Film

# Products and quotients of a few doubles: relative rounding stays far below this.
ROUNDING = 1e-12


def test_wet_film_with_and_without_thinner() -> None:
    assert wft_um(75, 50) == pytest.approx(150, rel=ROUNDING)
    assert wft_um(75, 50, 10) == pytest.approx(165, rel=ROUNDING)


def test_litres_for_an_area_count_the_loss_once() -> None:
    # 28 m² at 85 µm wet with 10 % left in tray and roller: 28 × 0.085 × 1.1.
    assert litres(28, 85, 10) == pytest.approx(2.618, rel=ROUNDING)
    assert litres(0, 85, 10) == 0


def test_practical_spread_is_theoretical_over_one_plus_loss() -> None:
    assert spread_m2_per_l(40, 50) == pytest.approx(12.5, rel=ROUNDING)
    assert spread_m2_per_l(40, 50, 25) == pytest.approx(10, rel=ROUNDING)


def test_share_of_thinner_in_the_thinned_paint() -> None:
    assert thinner_share(0) == 0
    assert thinner_share(10) == pytest.approx(0.1 / 1.1, rel=ROUNDING)


def test_a_sheet_without_solids_has_no_wet_film() -> None:
    assert wet_film_um(Film(None, (30.0, 40.0))) is None
    assert wet_film_um(Film(45.0, None)) is None
    assert wet_film_um(Film(50.0, (30.0, 40.0))) == (60.0, 80.0)


@given(st.floats(1, 1e4), st.floats(1, 100), st.floats(0, 100))
def test_dry_and_wet_film_are_inverse(dry: float, solids: float, thinner: float) -> None:
    assert dft_um(wft_um(dry, solids, thinner), solids, thinner) == pytest.approx(dry, rel=1e-9)


@given(st.floats(0, 1e4), st.floats(1, 1e4), st.floats(0, 100))
def test_area_and_litres_are_inverse(area: float, wet: float, loss: float) -> None:
    assert area_m2(litres(area, wet, loss), wet, loss) == pytest.approx(area, rel=1e-9)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan, math.inf])
def test_films_and_solids_that_cannot_be(bad: float) -> None:
    with pytest.raises(RangeError, match="dft_um"):
        wft_um(bad, 50)
    with pytest.raises(RangeError, match="volume_solids_pct"):
        wft_um(75, bad)
    with pytest.raises(RangeError, match="wft_um"):
        litres(1, bad)


@pytest.mark.parametrize("bad", [-1.0, math.nan, 101.0])
def test_percentages_that_cannot_be(bad: float) -> None:
    with pytest.raises(RangeError, match="thinner_pct"):
        wft_um(75, 50, bad)
    with pytest.raises(RangeError, match="loss_pct"):
        litres(1, 75, bad)
