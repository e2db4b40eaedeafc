"""Batches and panels: worked cases of trade judgement (common practice) and the refusals."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.base.errors import RangeError
from advisor.coatings.batch import BatchPlan, plan_batches, usable_share

# Sums and quotients of a few doubles.
ROUNDING = 1e-9


def gloss(**changes: Any) -> BatchPlan:
    """Two-part gloss at 30 °C for a hull side: the typical template's figures."""
    figures: dict[str, Any] = {
        "area_m2": 25.0,
        "pace_m2_per_h": 15.0,
        "wft_um": 85.0,
        "loss_pct": 0.0,
        "pot_life_h": 2.0,
        "induction_h": 10 / 60,
        "mix_temp_c": 30.0,
        "open_time_h": 0.25,
        "tray_life_h": 0.25,
        "ratio": (2.0, 1.0),
    }
    return plan_batches(**{**figures, **changes})


def test_hot_gloss_takes_half_of_what_remains_about_1_2_litres() -> None:
    plan = gloss()
    # (2 h − 10 min) × 0.5 × 15 m²/h × 85 µm = 1.17 L, where the whole would be 2.3 L.
    assert plan.largest_batch_l == pytest.approx(1.2, abs=0.05)
    assert plan.usable_h == pytest.approx(0.917, abs=0.001)
    assert plan.tray_refresh_min == pytest.approx(15)
    assert len(plan.batches) == 2


def test_at_20_degrees_the_pot_hardly_limits() -> None:
    # Worked in the trade notes: pot 4 h, 15 min induction → 2.25 h × 15 × 0.085 = 2.9 L.
    plan = gloss(pot_life_h=4.0, induction_h=0.25, mix_temp_c=20.0)
    assert plan.usable_h == pytest.approx(2.25, abs=ROUNDING)
    assert plan.largest_batch_l == pytest.approx(2.9, abs=0.05)
    assert len(plan.batches) == 1


def test_broadcast_non_skid_goes_in_panels_of_3_75_square_metres() -> None:
    plan = gloss(area_m2=8.0, scatter_h=0.25, open_time_h=None)
    assert plan.panel_m2 == pytest.approx(3.75, abs=ROUNDING)
    assert plan.panels == 3


def test_the_shorter_of_scatter_and_open_time_sizes_the_panel() -> None:
    assert gloss(scatter_h=0.25, open_time_h=0.1).panel_m2 == pytest.approx(1.5, abs=ROUNDING)


@pytest.mark.parametrize(
    ("temp_c", "share"),
    [(None, 0.6), (15.0, 0.7), (15.1, 0.6), (27.9, 0.6), (28.0, 0.5), (35.0, 0.5)],
)
def test_comfortable_share(temp_c: float | None, share: float) -> None:
    assert usable_share(temp_c) == share


def test_batches_in_parts_thinner_and_time() -> None:
    plan = gloss(thinner_pct=10.0, loss_pct=10.0)
    first, second = plan.batches
    # 12.5 m² each at 85 µm with 10 % loss is 1.16875 L, of which 1/11 is thinner.
    assert first.litres == pytest.approx(1.16875, rel=ROUNDING)
    assert first.thinner_l == pytest.approx(0.10625, rel=ROUNDING)
    assert [part.amount for part in first.parts] == pytest.approx([0.7083333, 0.3541667], abs=1e-6)
    assert {part.unit for part in first.parts} == {"L"}
    assert (first.reaches_m2, second.reaches_m2) == pytest.approx((12.5, 25.0))
    # The second is mixed while the first runs out, so that its induction ends in time.
    assert (first.mixed_at_h, second.mixed_at_h) == pytest.approx((0.0, 12.5 / 15))
    assert first.use_up_by_h == pytest.approx(10 / 60 + 11 / 12)
    assert first.dead_after_h == 2.0


def test_a_ratio_by_mass_is_split_in_kilograms() -> None:
    plan = gloss(ratio=(88.0, 12.0), ratio_by="mass", density_kg_per_l=1.2)
    parts = plan.batches[0].parts
    # 12.5 m² × 0.085 = 1.0625 L × 1.2 kg/L = 1.275 kg.
    assert [part.amount for part in parts] == pytest.approx([1.122, 0.153], rel=ROUNDING)
    assert {part.unit for part in parts} == {"kg"}


def test_a_ratio_by_mass_without_density_is_not_guessed() -> None:
    plan = gloss(ratio=(88.0, 12.0), ratio_by="mass")
    assert plan.batches[0].parts == ()
    assert any("density" in sentence for sentence in plan.missing)


def test_heavy_batches_are_split() -> None:
    plan = gloss(max_batch_kg=0.5, density_kg_per_l=1.0, mix_temp_c=20.0, pot_life_h=8.0)
    assert plan.largest_batch_l == pytest.approx(0.5, rel=ROUNDING)
    assert len(plan.batches) == 5  # 2.125 L
    assert any("density" in line for line in gloss(max_batch_kg=0.5).missing)


def test_one_can_has_no_pot_life_and_one_batch() -> None:
    plan = gloss(ratio=(1.0,), pot_life_h=None, induction_h=None)
    (batch,) = plan.batches
    assert batch.litres == pytest.approx(2.125, rel=ROUNDING)
    assert batch.dead_after_h is None
    assert plan.usable_h is None
    assert not any("pot life" in line for line in plan.missing)


@pytest.mark.parametrize(
    ("figure", "word", "empty"),
    [
        ("area_m2", "area", ("litres",)),
        ("wft_um", "wet film", ("litres", "largest_batch_l")),
        ("pot_life_h", "pot life", ("usable_h", "largest_batch_l", "largest_batch_m2")),
        ("pace_m2_per_h", "pace", ("largest_batch_l", "panel_m2", "panels")),
        ("open_time_h", "open time", ("panel_m2", "panels")),
        ("tray_life_h", "tray life", ("tray_refresh_min",)),
    ],
)
@pytest.mark.parametrize("blank", [None, math.nan])
def test_a_missing_figure_is_named_and_leaves_none(
    figure: str, word: str, empty: tuple[str, ...], blank: float | None
) -> None:
    plan = gloss(**{figure: blank})
    assert any(word in sentence.lower() for sentence in plan.missing)
    assert all(getattr(plan, name) is None for name in empty)
    assert not any(word in sentence.lower() for sentence in gloss().missing)


def test_induction_longer_than_pot_life_leaves_nothing() -> None:
    plan = gloss(induction_h=2.5)
    assert plan.usable_h == 0.0
    assert plan.batches == ()
    assert any("nothing is left" in note for note in plan.notes)


@pytest.mark.parametrize(
    ("figure", "name", "empty"),
    [
        ("pot_life_h", "pot life", ()),
        ("open_time_h", "open time", ("panel_m2", "panels")),
        ("scatter_h", "scatter time", ("panel_m2", "panels")),
        ("tray_life_h", "tray life", ("tray_refresh_min",)),
    ],
)
def test_a_time_of_zero_means_nothing_can_be_worked(
    figure: str, name: str, empty: tuple[str, ...]
) -> None:
    plan = gloss(**{figure: 0.0})
    assert f"The {name} is 0 h: nothing can be worked at this temperature." in plan.notes
    assert plan.batches == ()
    assert all(getattr(plan, field) is None for field in empty)
    assert plan.litres == pytest.approx(2.125, rel=ROUNDING)
    assert not any(name in sentence.lower() for sentence in plan.missing)
    with pytest.raises(RangeError, match=figure):
        gloss(**{figure: -0.1})


def test_paint_from_one_can_has_no_pot_life_to_be_zero() -> None:
    assert len(gloss(ratio=(1.0,), pot_life_h=0.0).batches) == 1


def test_absurd_numbers_list_no_batches() -> None:
    plan = gloss(area_m2=1e9)
    assert plan.batches == ()
    assert any("check area" in note for note in plan.notes)


@pytest.mark.parametrize(
    ("figure", "value"),
    [
        ("area_m2", 0.0),
        ("area_m2", -1.0),
        ("pace_m2_per_h", math.inf),
        ("pot_life_h", -1.0),
        ("mix_temp_c", 86.0),
        ("ratio", (2.0, 0.0)),
        ("ratio", ()),
        ("thinner_pct", math.nan),
        ("loss_pct", -5.0),
    ],
)
def test_impossible_figures_are_refused_by_name(figure: str, value: Any) -> None:
    with pytest.raises(RangeError, match=figure):
        gloss(**{figure: value})


@given(
    area=st.floats(0.5, 100),
    pace=st.floats(5, 40),
    pot=st.floats(0.5, 12),
    induction=st.floats(0, 0.4),
    temp=st.floats(5, 40),
)
def test_batches_add_up_and_fit(
    area: float, pace: float, pot: float, induction: float, temp: float
) -> None:
    plan = gloss(
        area_m2=area, pace_m2_per_h=pace, pot_life_h=pot, induction_h=induction, mix_temp_c=temp
    )
    assert plan.litres is not None
    assert plan.usable_h is not None
    assert sum(batch.litres for batch in plan.batches) == pytest.approx(plan.litres, rel=ROUNDING)
    for batch in plan.batches:
        assert batch.area_m2 / pace <= plan.usable_h * (1 + 1e-8)
        assert sum(part.amount for part in batch.parts) == pytest.approx(batch.litres)


@given(st.floats(0.5, 8), st.floats(0.5, 8))
def test_a_longer_pot_life_never_makes_a_smaller_batch(one: float, other: float) -> None:
    short, long = sorted((one, other))
    first = gloss(pot_life_h=short).largest_batch_l
    second = gloss(pot_life_h=long).largest_batch_l
    assert first is not None
    assert second is not None
    assert first <= second
