"""Dew on the work: what counts as dried, and until when it could be.

Figures and products are those of `test_reviews`, invented and round. That wiping with solvent or
masking dries nothing, and that wet bare steel is prepared again, is common practice.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from advisor.base.store import Store
from advisor.planning.job import Coat
from advisor.work.workbench import Workbench
from tests.unit.test_reviews import (
    JOB,
    at,
    limit,
    magnus_dew_c,
    mix,
    read,
    shop,
    steady,
    whole_coat,
)


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return shop(store, root, tmp_path)


def prepare(bench: Workbench, what: str, hours: float) -> None:
    bench.record.add("preparation", {"what": what}, at_s=at(hours), now_s=at(hours),
                     area_id="side")  # fmt: skip


def wet(bench: Workbench, *hours: float) -> None:
    for one in hours:
        read(bench, one, cold=magnus_dew_c(20, 50) - 0.5)


@pytest.mark.parametrize(
    ("what", "dips"),
    [("dried and wiped", 0), ("sanded and wiped", 0), ("abraded", 0), ("blasted", 0), ("masked", 1),
     ("washed", 1), ("solvent wipe", 1), ("dust wipe", 1), ("degreased", 1)],
)  # fmt: skip
def test_only_what_dries_ends_the_wet(bench: Workbench, what: str, dips: int) -> None:
    wet(bench, 3.0, 4.0, 5.0)
    prepare(bench, what, 7)
    whole_coat(bench)
    assert len(bench.reviews.coat("one", at(30)).dips) == dips


@pytest.mark.parametrize(("what", "dips"), [("dried and wiped", 1), ("blasted", 0)])
def test_bare_steel_is_prepared_again(bench: Workbench, what: str, dips: int) -> None:
    bench.save_job(replace(JOB, areas=(replace(JOB.areas[0], substrate="steel"), JOB.areas[1])))
    wet(bench, 3.0, 4.0, 5.0)
    prepare(bench, what, 7)
    whole_coat(bench)
    assert len(bench.reviews.coat("one", at(30)).dips) == dips


def test_dried_while_the_batch_stood_is_dried_before_the_coat(bench: Workbench) -> None:
    """Wiping is often the last thing done, after mixing and before the first patch."""
    wet(bench, 3.0, 4.0, 5.0)
    mix(bench, 9)
    prepare(bench, "dried and wiped", 9.4)
    bench.lay_coat("one", at(9.5), at(10))
    steady(bench, 8.75, 24.75)
    assert bench.reviews.coat("one", at(30)).dips == ()


def test_dried_after_the_first_patch_does_not_undo_the_dew_before_it(bench: Workbench) -> None:
    wet(bench, 3.0, 4.0, 5.0)
    mix(bench, 9)
    bench.lay_coat("one", at(9.5), at(10))
    prepare(bench, "dried and wiped", 9.6)
    steady(bench, 8.75, 24.75)
    review = bench.reviews.coat("one", at(30))
    assert len(review.dips) == 1
    assert any("it was painted over with no drying in the record" in n for n in review.notes)


def test_dew_before_the_start_is_not_answered_by_sanding_after_it(bench: Workbench) -> None:
    wet(bench, 3.0, 4.0, 5.0)
    whole_coat(bench)
    prepare(bench, "sanded and wiped", 40)
    (note,) = [n for n in bench.reviews.coat("one", at(50)).notes if "dew point" in n]
    assert "it was painted over with no drying in the record" in note


def test_dew_on_a_coat_is_not_answered_once_another_is_over_it(bench: Workbench) -> None:
    whole_coat(bench)
    wet(bench, 15.9, 16.9)
    whole_coat(bench, "two", 33.0)
    prepare(bench, "sanded and wiped", 60)
    notes = [n for n in bench.reviews.coat("one", at(70)).notes if "dew point" in n]
    assert notes
    assert all("it was painted over with no drying in the record" in n for n in notes)
    prepare(bench, "sanded and wiped", 32)
    again = bench.reviews.coat("one", at(70)).notes
    assert any("sanded and wiped Tue 2 Jun 2026 08:00" in n for n in again)


# --- coats left out, entries that belong to it -------------------------------------------------


def test_a_coat_left_out_hides_nothing_of_the_next(bench: Workbench) -> None:
    """Three in the job, the middle one never went on: the third ends the look back on the first."""
    third = Coat("three", "third gloss", "side", "own-gloss", 8.0)
    bench.save_job(replace(JOB, coats=(*JOB.coats, third)))
    whole_coat(bench)
    mix(bench, 12, "three")
    bench.lay_coat("three", at(12), at(13))
    read(bench, 13.5, rh=95.0)
    review = bench.reviews.coat("one", at(40))
    assert limit(review, "humidity").standing == "inside"
    assert limit(review, "humidity").hours_asked == pytest.approx(3.0)


def test_a_batch_of_another_coat_is_among_the_entries(bench: Workbench) -> None:
    shared = mix(bench, 9)
    steady(bench, 8.75, 24.75)
    for what, hours in (("start", 10.0), ("finish", 11.0)):
        bench.record.add("application", {"event": what, "batch": str(shared.number)},
                         at_s=at(hours), now_s=at(hours), coat_id="deck")  # fmt: skip
    assert shared.number in [e.number for e in bench.reviews.coat("deck", at(30)).entries]


def test_a_reading_moved_into_the_coat_is_told_as_corrected(bench: Workbench) -> None:
    whole_coat(bench)
    moved = read(bench, 40.0, rh=60.0)
    assert moved is not None
    bench.record.correct(moved.number, {"at": "2026-06-01T11:30:00+00:00"}, "clock", at(41))
    notes = bench.reviews.coat("one", at(50)).notes
    assert any(n.startswith("corrected") and n.endswith(f"entries {moved.number}") for n in notes)
    assert any(n.startswith("written late") and n.endswith(f" {moved.number}") for n in notes)
