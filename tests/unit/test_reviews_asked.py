"""What a data sheet asks besides the air: trend, preparation, moisture, tins and their dates.

Sheet and figures are those of `test_reviews`, invented and round. That timber, bare steel, tins and
a rising or falling surface are limits at all is common practice of the trade.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from advisor.base.store import Store
from advisor.planning.job import Job
from advisor.record.canonical import Json
from advisor.record.entry import quantity
from advisor.record.expiry import last_day
from advisor.record.report.coat import limits_table
from advisor.record.report.say import Say
from advisor.record.report.told import told
from advisor.record.review_types import CoatReview, LimitReview
from advisor.record.review_words import lines
from advisor.work.live_views import PartMixed
from advisor.work.workbench import Workbench
from tests.unit.test_reviews import (
    JOB,
    SHEET,
    at,
    magnus_dew_c,
    mix,
    read,
    steady,
    whole_coat,
)


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    made = Workbench(store, root / "resources")
    keep(made, tmp_path)
    made.save_job(JOB)
    return made


def keep(bench: Workbench, folder: Path, limits: str = "", prepare: str = "") -> None:
    text = SHEET.format(revision="A", rh_pct=85)
    text = text.replace("[film]", f"{limits}\n[film]")
    path = folder / "own-gloss.toml"
    path.write_text(f"{text}[prepare]\n{prepare}\n" if prepare else text, encoding="utf-8")
    bench.add_product_file(path)


def on_area(substrate: str, trend: str | None = None) -> Job:
    area = replace(JOB.areas[0], substrate=substrate, trend=trend)  # type: ignore[arg-type]
    return replace(JOB, areas=(area, JOB.areas[1]))


def prepare(
    bench: Workbench, what: str, hours: float, moisture: str = "", later: float | None = None
) -> None:
    data: dict[str, Json] = {"what": what}
    if moisture:
        data["moisture"] = quantity(moisture, "%", "typed")
    bench.record.add("preparation", data, at_s=at(hours), now_s=at(later or hours),
                     area_id="side")  # fmt: skip


def asked(review: CoatReview, label: str) -> LimitReview | None:
    return next((x for x in review.limits if x.limit.label == label), None)


# --- trend -------------------------------------------------------------------------------------


def ramp(bench: Workbench, per_hour: float, step: float = 0.5) -> None:
    """Surface 20 °C at 9:00, changing steadily until 10:00, then still."""
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(10))
    for hours in np.arange(7, 21, step):
        cold = 20.0 + per_hour * (min(float(hours), 10.0) - 9.0)
        read(bench, float(hours), cold=cold)


@pytest.mark.parametrize(
    ("trend", "per_hour", "standing"),
    [("rising", -0.6, "outside"), ("rising", -0.5, "inside"), ("rising", 2.0, "inside"),
     ("falling", 0.6, "outside"), ("falling", 0.5, "inside"), ("falling", -2.0, "inside")],
)  # fmt: skip
def test_the_trend_a_data_sheet_asks_for(
    bench: Workbench, tmp_path: Path, trend: str, per_hour: float, standing: str
) -> None:
    """Half a kelvin an hour the wrong way is the dead band (design, section 4)."""
    keep(bench, tmp_path, limits=f'surface_trend = "{trend}"')
    ramp(bench, per_hour)
    review = bench.reviews.coat("one", at(30))
    found = asked(review, "Surface change in an hour")
    assert found is not None
    assert found.phase == "application"
    assert found.limit.whose == "data sheet"
    assert found.standing == review.standing == standing
    assert found.worst == pytest.approx(per_hour, abs=1e-9)
    assert found.hours_known == found.hours_asked == 1.0


def test_a_trend_of_the_area_counts_too(bench: Workbench) -> None:
    bench.save_job(on_area("steel", "rising"))
    ramp(bench, -1.0)
    found = asked(bench.reviews.coat("one", at(30)), "Surface change in an hour")
    assert found is not None
    assert (found.standing, found.limit.whose) == ("outside", "the job")


def test_without_an_hour_before_it_the_trend_is_not_known(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, limits='surface_trend = "rising"')
    mix(bench, 9)
    bench.lay_coat("one", at(9), at(9.5))
    steady(bench, 9, 20, 0.5)
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "not known"
    assert "surface trend" in review.summary


def test_a_trend_nobody_asks_for_is_not_judged(bench: Workbench) -> None:
    ramp(bench, -3.0)
    assert asked(bench.reviews.coat("one", at(30)), "Surface change in an hour") is None


def test_a_coat_kept_before_the_limit_was_known_is_not_held_against_it(
    bench: Workbench, tmp_path: Path
) -> None:
    """Limits in force are those kept with it, by whichever program."""
    ramp(bench, -3.0)
    keep(bench, tmp_path, limits='surface_trend = "rising"', prepare="sanded_within_h = 1")
    assert bench.reviews.coat("one", at(30)).standing == "inside"


# --- preparation -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("moisture", "standing"),
    [("12", "inside"), ("15", "inside"), ("15.1", "outside"), ("", "not known")],
)
def test_timber_no_damper_than_the_data_sheet_allows(
    bench: Workbench, tmp_path: Path, moisture: str, standing: str
) -> None:
    keep(bench, tmp_path, prepare="timber_moisture_max_pct = 15")
    prepare(bench, "sanded and wiped", 7, moisture)
    whole_coat(bench)
    review = bench.reviews.coat("one", at(30))
    found = asked(review, "Timber moisture")
    assert found is not None
    assert found.standing == review.standing == standing
    assert found.worst == (float(moisture) if moisture else None)
    assert ("timber moisture" in review.summary) == (standing != "inside")


def test_the_last_moisture_before_the_coat_counts(bench: Workbench, tmp_path: Path) -> None:
    """Told out of order: 22 % at 3:00 was told last; 14 % at 7:00 is the newer."""
    keep(bench, tmp_path, prepare="timber_moisture_max_pct = 15")
    prepare(bench, "sanded and wiped", 7, "14")
    prepare(bench, "sanded and wiped", 3, "22", later=8)
    whole_coat(bench)
    found = asked(bench.reviews.coat("one", at(30)), "Timber moisture")
    assert found is not None
    assert (found.worst, found.worst_at_s, found.standing) == (14.0, at(7), "inside")


def test_steel_has_no_timber_and_paint_hides_it(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, prepare="timber_moisture_max_pct = 15")
    prepare(bench, "sanded and wiped", 7, "12")
    whole_coat(bench)
    whole_coat(bench, "two", 30.0)
    assert asked(bench.reviews.coat("two", at(60)), "Timber moisture") is None
    bench.save_job(on_area("steel"))
    whole_coat(bench, "deck", 60.0)
    assert bench.reviews.coat("deck", at(90)).standing == "not known"  # the deck is timber


@pytest.mark.parametrize(("hours", "standing"), [(5.0, "inside"), (4.9, "outside")])
def test_bare_steel_is_painted_within_its_time(
    bench: Workbench, tmp_path: Path, hours: float, standing: str
) -> None:
    bench.save_job(on_area("steel"))
    keep(bench, tmp_path, prepare="bare_steel_within_h = 4")
    prepare(bench, "blasted", hours)
    whole_coat(bench)
    review = bench.reviews.coat("one", at(30))
    found = asked(review, "Time since the steel was bare")
    assert found is not None
    assert found.standing == review.standing == standing
    assert found.worst == pytest.approx(9.0 - hours)
    (line,) = [x for x in lines(review, bench.words(at(30))) if x.name == found.limit.label]
    assert "4 h" in line.under


@pytest.mark.parametrize("rule", ["bare_steel_within_h = 4", "sanded_within_h = 4"])
def test_blasted_before_the_coat_below_says_nothing_of_the_one_over_it(
    bench: Workbench, tmp_path: Path, rule: str
) -> None:
    """Nobody tapped the last patch of the coat below, so that nobody knows when it ended."""
    bench.save_job(on_area("steel"))
    keep(bench, tmp_path, prepare=rule)
    prepare(bench, "blasted", 8)
    mix(bench, 9)
    bench.record.add("application", {"event": "start"}, at_s=at(9), now_s=at(9), coat_id="one")
    whole_coat(bench, "two", 33.0)
    review = bench.reviews.coat("two", at(60))
    assert [x.limit.label for x in review.limits if x.limit.rule == "prepared"] == []
    assert review.standing == "not known"  # the interval is


def test_sanded_longer_ago_than_it_keeps(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, prepare="sanded_within_h = 24")
    prepare(bench, "sanded and wiped", 8)
    whole_coat(bench)
    whole_coat(bench, "two", 30.0)  # inside the interval nobody has to sand
    assert asked(bench.reviews.coat("two", at(80)), "Time since sanding") is None
    bench.unlay_coat("two", at(50))
    prepare(bench, "abraded", 51)
    whole_coat(bench, "two", 76.0)
    review = bench.reviews.coat("two", at(120))
    found = asked(review, "Time since sanding")
    assert found is not None
    assert (found.worst, found.standing) == (25.0, "outside")
    assert "time since sanding" in review.summary


def test_tins_warmer_than_the_dew_point(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, prepare="tins_above_dew_point_k = 3")
    dew = magnus_dew_c(20, 50)
    for above, standing in ((3.2, "inside"), (2.8, "outside")):  # dew by hand within 0.03 K
        mix(bench, 9, mix_temp=quantity(f"{dew + above:.2f}", "°C", "typed"))
        steady(bench, 8.75, 20.75)
        bench.lay_coat("one", at(9), at(10))
        found = asked(bench.reviews.coat("one", at(30)), "Tins above dew point")
        assert found is not None
        assert found.standing == standing
        assert found.worst == pytest.approx(above, abs=0.03)
        bench.record.strike_out(bench.reviews.coat("one", at(30)).batches[0].entry.number,
                                "again", at(31))  # fmt: skip


def test_tins_nobody_measured_are_not_known(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, prepare="tins_above_dew_point_k = 3")
    bench.record.add("batch", {"product": "own gloss"}, at_s=at(9), now_s=at(9), coat_id="one")
    steady(bench, 8.75, 20.75)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "not known"
    assert "tins above dew point" in review.summary


def test_tins_of_one_batch_do_not_speak_for_the_other(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, prepare="tins_above_dew_point_k = 3")
    whole_coat(bench)
    bench.record.add("batch", {"product": "own gloss"}, at_s=at(9.5), now_s=at(9.5), coat_id="one")
    found = asked(bench.reviews.coat("one", at(30)), "Tins above dew point")
    assert found is not None
    assert found.standing == "not known"


def test_sanding_struck_out_counts_for_nothing(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, prepare="sanded_within_h = 24")
    done = bench.log_sanded(at(7), "side", at(7))
    whole_coat(bench)
    found = asked(bench.reviews.coat("one", at(30)), "Time since sanding")
    assert found is not None
    assert (found.worst, found.standing) == (2.0, "inside")
    bench.record.strike_out(done.number, "it was the deck", at(31))
    found = asked(bench.reviews.coat("one", at(32)), "Time since sanding")
    assert found is not None
    assert (found.worst, found.standing) == (None, "not known")


def test_a_trend_is_not_drawn_over_a_hole(bench: Workbench, tmp_path: Path) -> None:
    """Read to 10:00 and again from 14:00: of the hour between, and the hour after, nothing."""
    keep(bench, tmp_path, limits='surface_trend = "rising"')
    mix(bench, 9)
    steady(bench, 7, 10, 0.5)
    steady(bench, 14, 30, 0.5)
    bench.lay_coat("one", at(9), at(15.5))
    found = asked(bench.reviews.coat("one", at(40)), "Surface change in an hour")
    assert found is not None
    assert found.standing == "not known"
    assert found.hours_known == pytest.approx(1.5)


def test_what_is_typical_of_a_class_may_go_unread(bench: Workbench, tmp_path: Path) -> None:
    """A template asks for nothing: nobody's data sheet says so."""
    keep(bench, tmp_path, 'surface_trend = "rising"', "timber_moisture_max_pct = 15")
    path = tmp_path / "own-gloss.toml"
    text = path.read_text("utf-8").replace('"from data sheet"', '"template"')
    path.write_text(text, encoding="utf-8")
    bench.add_product_file(path)
    mix(bench, 9)
    steady(bench, 9, 20)
    bench.lay_coat("one", at(9), at(9.5))
    review = bench.reviews.coat("one", at(30))
    assert review.standing == "inside"
    assert any(n.startswith("Timber moisture was not read") for n in review.notes)


# --- the date on the tin -----------------------------------------------------------------------


def parts(**expiry: str) -> list[dict[str, Json]]:
    return [{"part": name, "batch": "B-1", "expiry": text} for name, text in expiry.items()]


@pytest.mark.parametrize(
    ("expiry", "standing"),
    [("2026-06-01", "inside"), ("2026-06", "inside"), ("", "inside"), ("2026-05-31", "outside"),
     ("2026-05", "outside"), ("soon", "not known"), ("2026-W22-7", "not known")],
)  # fmt: skip
def test_a_component_past_its_date(bench: Workbench, expiry: str, standing: str) -> None:
    """Mixed on 1 June 2026: good on the day itself and to the end of a month."""
    mix(bench, 9, parts=parts(base="2027-01", hardener=expiry))
    steady(bench, 8.75, 20.75)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(30))
    (batch,) = review.batches
    assert batch.standing == review.standing == standing
    assert ("hardener" in batch.text) == (standing != "inside")


@pytest.mark.parametrize(
    ("mixed", "unit", "standing"),
    [("2 : 1", "L", "inside"), ("2.09 : 1", "L", "inside"), ("2.2 : 1", "L", "outside"),
     ("1 : 5", "L", "outside"), ("", "L", "inside"), ("2 : 1", "kg", "not known")],
)  # fmt: skip
def test_a_batch_mixed_in_another_ratio(
    bench: Workbench, mixed: str, unit: str, standing: str
) -> None:
    """2 : 1 by volume asked: 2.09 is 4.5 % off, 2.2 is 10 %; kilos say nothing of litres."""
    rows: list[Json] = [{"part": part, "unit": unit} for part in ("base", "hardener")]
    mix(bench, 9, parts=[*rows, {"part": "thinner", "unit": "ml"}], ratio_by="volume",
        ratio_asked="2 : 1 by volume", ratio_mixed=mixed)  # fmt: skip
    steady(bench, 8.75, 20.75)
    bench.lay_coat("one", at(9), at(10))
    review = bench.reviews.coat("one", at(30))
    (batch,) = review.batches
    assert batch.standing == review.standing == standing
    assert (f"mixed {mixed}" in batch.text) == (standing != "inside")


def test_the_day_of_mixing_is_that_of_the_shop(bench: Workbench) -> None:
    """23:30 UTC on 31 May is 1 June in a zone east of it."""
    bench.save_job(replace(JOB, time_zone="Europe/Berlin"))
    mix(bench, -0.5, parts=parts(base="2026-05-31"))
    steady(bench, -0.75, 13)
    bench.lay_coat("one", at(-0.5), at(0.5))
    (batch,) = bench.reviews.coat("one", at(30)).batches
    assert batch.standing == "outside"


def test_the_form_says_expired_by_the_same_day_as_the_review(bench: Workbench) -> None:
    bench.save_job(replace(JOB, time_zone="Europe/Berlin"))
    offered = bench.live.batch_form("one", at(-0.5))
    form = replace(offered, parts=(PartMixed("base", expiry="2026-05-31"),))
    said = "base: expired on 2026-05-31: ask the maker before use"
    assert said in bench.live.checked(form, at(-0.5)).warnings  # 1 June in the shop
    assert said not in bench.live.checked(form, at(-2.5)).warnings


def test_an_expired_batch_past_its_pot_life_says_both(bench: Workbench) -> None:
    mix(bench, 9, parts=parts(base="2026-05"))
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(9), at(12.5))
    (batch,) = bench.reviews.coat("one", at(30)).batches
    assert batch.standing == "outside"
    assert "base expired on 2026-05-31" in batch.text
    assert "past use at" in batch.text


def test_last_days() -> None:
    assert str(last_day("2028-02")) == "2028-02-29"
    assert last_day("2026-13") is last_day("") is last_day("1 June") is None


# --- on paper ------------------------------------------------------------------------------------


def test_what_was_asked_stands_in_every_report(bench: Workbench, tmp_path: Path) -> None:
    keep(bench, tmp_path, 'surface_trend = "rising"', "timber_moisture_max_pct = 15\n"
         "sanded_within_h = 24\ntins_above_dew_point_k = 3")  # fmt: skip
    prepare(bench, "sanded and wiped", 7, "22")
    steady(bench, 7, 8.5, 0.5)
    whole_coat(bench)
    written = bench.reporting.json(tmp_path / "report.json", at(30)).read_text("utf-8")
    for label in ("Timber moisture", "Time since sanding", "Tins above dew point",
                  "Surface change in an hour"):  # fmt: skip
        assert label in written
    bench.reporting.csv(tmp_path / "csv", at(30))
    assert bench.reporting.pdf(tmp_path / "report.pdf", at(30)).stat().st_size > 0
    review = bench.reviews.coat("one", at(30))
    report = told(bench.reviews.job(at(30)), Say(bench.words(at(30))), lambda _: None)
    rows = limits_table(report, review).rows
    paper = " ".join(run.text for row in rows for one in row for run in one)
    assert "at the start" in paper
    assert "0 min" not in paper
    assert review.summary == (
        "Outside: timber moisture, worst 22% at Mon 1 Jun 2026 07:00, asked at most 15% "
        "(data sheet)."
    )
    assert asked(review, "Time since sanding").standing == "inside"  # type: ignore[union-attr]
