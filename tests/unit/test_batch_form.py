"""The form of a batch and what looks wrong in it. Invented product; no numbers from outside.

Units: 1 US gallon = 3.785411784 L, 1 lb = 0.45359237 kg, exact by definition (NIST SP 811).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from advisor.base.errors import InputError, RangeError
from advisor.coatings.batch import plan_batches
from advisor.coatings.product import Hazards, Mix
from advisor.planning.job import Coat
from advisor.record.expiry import last_day
from advisor.work.batch_form import batch_data, offered, warned
from advisor.work.live_views import BatchForm, PartMixed
from tests.helpers.live_bench import NOW
from tests.helpers.products import product

PAINT = replace(
    product({"pot_life_h": (8.0, 4.0, 2.0), "induction_h": (0.5, 0.5, 0.5)}),
    mix=Mix((2.0, 1.0), "volume", 10.0),
)
TODAY = datetime.fromtimestamp(NOW, UTC).date()
COAT = Coat("c", "coat", "side", PAINT.id, 8.0)
BLANK = offered(PAINT, COAT, None, "")


def parts(base: str, hardener: str, unit: str = "L", other: str = "") -> BatchForm:
    two = (
        PartMixed("base", amount=base, unit=unit),
        PartMixed("hardener", amount=hardener, unit=other or unit),
    )
    return replace(BLANK, parts=two)


def warnings(form: BatchForm) -> tuple[str, ...]:
    return warned(form, PAINT, TODAY).warnings


def test_offered_with_the_amounts_of_the_plan() -> None:
    """12 m² at 100 µm are 1.2 L mixed, 2 : 1."""
    plan = plan_batches(area_m2=12.0, pace_m2_per_h=12.0, wft_um=100.0, loss_pct=0.0,
                        pot_life_h=4.0, ratio=(2.0, 1.0))  # fmt: skip
    form = offered(PAINT, COAT, plan, "21")
    assert [(p.part, p.amount, p.unit) for p in form.parts] == [
        ("base", "0.8", "L"), ("hardener", "0.4", "L"), ("thinner", "", "L"),
    ]  # fmt: skip
    assert (form.ratio_asked, form.mix_temp_c) == ("2 : 1 by volume", "21")
    assert warnings(form) == ()


def test_without_a_plan_the_amounts_are_blank() -> None:
    assert [p.amount for p in BLANK.parts] == ["", "", ""]
    assert warnings(BLANK) == ()


def test_one_can_has_one_part() -> None:
    one = replace(PAINT, mix=Mix())
    form = offered(one, COAT, None, "")
    assert ([p.part for p in form.parts], form.ratio_asked) == (["paint"], "one can")


@pytest.mark.parametrize(
    ("base", "hardener", "said"),
    [("1", "0.6", "20% too much hardener"), ("1", "0.4", "20% too little hardener")],
)
def test_a_ratio_that_is_off(base: str, hardener: str, said: str) -> None:
    assert said in warnings(parts(base, hardener))[0]


@pytest.mark.parametrize(("base", "hardener"), [("1", "0.5"), ("1", "0.52"), ("1,0", "0,5")])
def test_a_ratio_as_good_as_a_cups_marks(base: str, hardener: str) -> None:
    assert warnings(parts(base, hardener)) == ()


def test_other_units_of_the_same_kind_are_turned() -> None:
    """A US gallon to 1.892705892 L is 2 : 1."""
    assert warnings(parts("1", "1.892705892", "US gal", "L")) == ()


def test_volume_and_mass_mixed_up() -> None:
    assert "by volume, but base in g and hardener in g" in warnings(parts("200", "100", "g"))[0]
    mixed = warnings(parts("1", "500", "L", "g"))
    assert len(mixed) == 1
    assert "hardener in g" in mixed[0]


@pytest.mark.parametrize(
    ("expiry", "said"),
    [("2026-05", "expired on 2026-05-31"), ("2026-05-31", "expired on"), ("soon", "is no date"),
     ("2026-13", "is no date")],
)  # fmt: skip
def test_expired(expiry: str, said: str) -> None:
    form = replace(BLANK, parts=(PartMixed("base", expiry=expiry),))
    assert said in warnings(form)[0]


@pytest.mark.parametrize("expiry", ["2026-06", "2026-06-01", "2027-01-31", ""])
def test_not_expired(expiry: str) -> None:
    assert warnings(replace(BLANK, parts=(PartMixed("base", expiry=expiry),))) == ()


def test_the_last_day_of_a_month() -> None:
    assert [str(last_day(text)) for text in ("2026-02", "2028-02", "2026-12")] == [
        "2026-02-28", "2028-02-29", "2026-12-31",
    ]  # fmt: skip


def test_thinner_over_the_limit() -> None:
    assert warnings(replace(BLANK, thinner_pct="10")) == ()
    assert "the limit is 10 % (data sheet)" in warnings(replace(BLANK, thinner_pct="10.5"))[0]


def test_a_mix_colder_than_the_table() -> None:
    assert "table begins at 10 °C" in warnings(replace(BLANK, mix_temp_c="9"))[0]


def test_too_much_in_one_pot() -> None:
    hot = replace(PAINT, hazards=Hazards(exotherm_over_kg=0.5),
                  mix=replace(PAINT.mix, density_kg_per_l=1.5))  # fmt: skip
    assert "heats itself up" in warned(parts("0.3", "0.15"), hot, TODAY).warnings[0]
    assert warned(parts("0.2", "0.1"), hot, TODAY).warnings == ()


@pytest.mark.parametrize("typed", ["lots", "1e3", "0x1", "1_0", "nan", "-", "٣٣٣٣٣٣٣٣٣٣٣٣٣"])
def test_what_is_no_number_is_refused(typed: str) -> None:
    assert warnings(parts(typed, "1")) == ()
    with pytest.raises(InputError, match="base"):
        batch_data(parts(typed, "1"), PAINT)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(RangeError, match="mix temperature"):
        batch_data(replace(BLANK, mix_temp_c="200"), PAINT)
    with pytest.raises(RangeError, match="thinner"):
        batch_data(replace(BLANK, thinner_pct="-1"), PAINT)


def test_tins_in_fahrenheit_keep_what_was_entered() -> None:
    """68 °F is 20 °C exactly."""
    form = replace(BLANK, mix_temp_c="20.00", mix_temp_entered="68 °F")
    assert batch_data(form, PAINT)["mix_temp"] == {
        "value": "20.00", "unit": "°C", "source": "typed", "entered": "68 °F",
    }  # fmt: skip


def test_the_entry_has_the_sheets_times_at_the_mix() -> None:
    data = batch_data(replace(BLANK, mix_temp_c="30"), PAINT)
    assert data["pot_life"] == {"value": "2", "unit": "h", "source": "data sheet"}
    assert data["induction"] == {"value": "0.5", "unit": "h", "source": "data sheet"}
    assert data["parts"] == []


@pytest.mark.parametrize(
    "typed", ["soon", "2026-13", "2026-02-30", "20260531", "2026-W22", "0000-01"]
)
def test_a_use_by_that_is_no_date_is_refused(typed: str) -> None:
    form = replace(BLANK, parts=(PartMixed("base", expiry=typed),))
    with pytest.raises(InputError, match=r"base, use by: found .*2027-03 or a day"):
        batch_data(form, PAINT)


@pytest.mark.parametrize("typed", ["2026-05", "2026-05-31", ""])
def test_a_use_by_that_is_a_month_a_day_or_nothing_is_kept(typed: str) -> None:
    form = replace(BLANK, parts=(PartMixed("base", batch="B-7", expiry=typed),))
    (row,) = batch_data(form, PAINT)["parts"]  # type: ignore[misc, union-attr]
    assert dict(row).get("expiry", "") == typed  # type: ignore[arg-type, call-overload]
