"""Coordinates are cut, never rounded, and cutting twice is cutting once."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import RangeError
from advisor.climate.place import Place
from advisor.climate.sources.source import cut_place


@pytest.mark.parametrize(
    ("lat", "lon", "cut"),
    [(1.15, -1.15, (1.15, -1.15)), (52.5199, 13.409, (52.51, 13.40)), (-0.009, 0.0, (0.0, 0.0))],
)
def test_cut_by_decimals(lat: float, lon: float, cut: tuple[float, float]) -> None:
    found = Place(lat, lon).cut()
    assert (found.lat_deg, found.lon_deg) == cut


@given(st.floats(-90, 90), st.floats(-180, 180))
def test_cutting_again_changes_nothing_and_agrees_with_what_is_asked(
    lat: float, lon: float
) -> None:
    once = Place(lat, lon).cut()
    assert once.cut() == once
    asked = cut_place(Place(lat, lon))
    assert (float(asked.lat), float(asked.lon)) == (once.lat_deg, once.lon_deg)


@pytest.mark.parametrize("place", [(91, 0), (0, 181), (float("nan"), 0)])
def test_not_on_the_earth(place: tuple[float, float]) -> None:
    with pytest.raises(RangeError):
        Place(*place)
