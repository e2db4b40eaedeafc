"""What is never suggested, whatever the shop, the weather, the coat and the hours wanted."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.climate.shop.shop import KINDS, Change, ShopKind
from advisor.coatings.product import Limits
from advisor.work.cheapest import cheapest
from advisor.work.damp_floor import damp_floor
from advisor.work.outlook_views import Suggestion
from advisor.work.what_if import Setting, what_if
from tests.helpers.products import HOUR_S
from tests.helpers.shop_week import NOW_S, keen_gloss, outdoor, setting


@st.composite
def situations(draw: st.DrawFn) -> Setting:
    """A shop of any kind and size, cold to hot, dry to wet, a coat with narrow or wide limits."""
    kind: ShopKind = draw(st.sampled_from(KINDS))
    mean_c = draw(st.floats(0.0, 26.0))
    dew_c = mean_c - draw(st.floats(0.0, 10.0))
    limits = Limits(
        air_temp_c=(5.0, 35.0),
        surface_temp_c=(draw(st.floats(2.0, 16.0)), 35.0),
        rh_pct=(0.0, draw(st.floats(55.0, 85.0))),
        hold_margin_k=draw(st.floats(0.5, 3.0)),
    )
    slow = draw(st.floats(1.0, 4.0))
    return setting(
        outdoor(mean_c, draw(st.floats(0.0, 6.0)), dew_c, days=6),
        kind=kind,
        volume_m3=draw(st.floats(20.0, 1000.0)),
        product=keen_gloss(limits, tape_dry=(16.0 * slow, 8.0 * slow, 4.0 * slow)),
        working_hours=draw(st.sampled_from(["", "08:00-20:00"])),
        laid=draw(st.booleans()),
    )


@settings(max_examples=25)
@given(situations(), st.floats(0.0, 60.0), st.floats(2.0, 10.0))
def test_never_less_fresh_air_never_a_flame(at: Setting, from_h: float, hours: float) -> None:
    begin = NOW_S + from_h * HOUR_S
    coat_id = at.week.job.next_coats()[0].id
    found = cheapest(at, coat_id, (begin, begin + hours * HOUR_S))
    for each in found:
        change = each.change
        assert change.air_changes >= 1.0
        assert change.heater_kind == "electric"
        assert change.damp_litres == 0.0
        assert not change.move
        assert "safe" not in each.text.lower()
        assert "unvented" not in each.text
        if change.tent_m3 > 0:
            _tent_over_no_wet_film(at, each, (begin, begin + hours * HOUR_S))
    assert [s.kwh for s in found] == sorted(s.kwh for s in found)


def _tent_over_no_wet_film(at: Setting, told: Suggestion, wanted: tuple[float, float]) -> None:
    """Every start the tent is for is tack-free before it hangs, and so is what is laid already."""
    change = told.change
    assert change.from_s is not None
    judged = what_if(at, change).week.lanes[0].judged
    times = judged.series.time_s[judged.timeline.starts]
    tack_free_s = judged.series.start_s + judged.series.step_s * judged.timeline.tack_free
    inside = (judged.verdicts <= 1) & (times >= wanted[0]) & (times <= wanted[1])
    dry_before = np.count_nonzero(inside & (tack_free_s <= change.from_s))
    assert dry_before * judged.series.step_s / HOUR_S >= told.gained_h - 1e-9
    for coat in at.week.job.coats:
        if coat.laid is not None:
            # Even at 30 °C this film is wet for two hours.
            assert change.from_s >= coat.laid.end_s + 2 * HOUR_S


changes = st.builds(
    Change,
    heater_kw=st.floats(0.0, 10.0),
    heater_kind=st.sampled_from(["electric", "vented", "unvented"]),
    dehumidifier_l_per_day=st.floats(0.0, 70.0),
    air_changes=st.floats(0.2, 8.0),
    damp_litres=st.floats(0.0, 50.0),
    damp_m2=st.floats(1.0, 100.0),
    tent_m3=st.sampled_from([0.0, 10.0, 40.0]),
    from_s=st.one_of(st.none(), st.floats(NOW_S, NOW_S + 90 * HOUR_S)),
    move=st.sampled_from(["", "indoors", "outdoors"]),
)


@settings(max_examples=40)
@given(situations(), changes)
def test_what_is_asked_for_is_shown_with_its_cautions(at: Setting, change: Change) -> None:
    found = what_if(at, change)
    said = " ".join((found.text, *found.notes)).lower()
    assert "safe" not in said
    assert found.kwh >= 0.0
    series = found.week.series
    known = ~(series.air_temp_c != series.air_temp_c)
    assert (series.dew_point_c[known] <= series.air_temp_c[known]).all()
    if change.heater_kw > 0 and change.heater_kind == "unvented":
        assert "carbon monoxide" in said
        assert "amine blush" in said
    if change.heater_kw > 0 and change.heater_kind != "electric":
        assert "no flame near solvent vapour" in said
    if change.air_changes < 1:
        assert "less fresh air while solvent is wet" in said
    if change.move:
        assert "move it only while no film on it is open" in said


@settings(max_examples=25)
@given(situations(), st.floats(0.5, 40.0), st.floats(2.0, 80.0))
def test_a_wet_floor_never_dries_the_air(at: Setting, litres: float, area_m2: float) -> None:
    found = damp_floor(at, at.week.job.next_coats()[0].id, litres, area_m2)
    assert found.rise_pct >= 0.0
    assert found.dry_enough_s is None or found.dry_enough_s >= found.at_s
    assert "safe" not in found.text.lower()


def test_the_grid_covers_every_field_of_a_change() -> None:
    asked = {"heater_kw", "heater_kind", "dehumidifier_l_per_day", "air_changes", "damp_litres",
             "damp_m2", "tent_m3", "from_s", "until_s", "move"}  # fmt: skip
    assert {f.name for f in fields(Change)} == asked
