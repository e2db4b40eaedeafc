"""Why did it dull, peel, bubble? Causes ranked by a coat's own record.

What speaks for a cause is common practice (figures from memory); here it is checked that the
record's evidence ends on the right side, and that what nobody read speaks for nothing.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.record.cause_table import SUSPECTS
from advisor.record.entry import quantity
from advisor.record.kinds import DEFECTS
from advisor.record.review_types import Cause
from advisor.work.workbench import Workbench
from tests.unit.test_reviews import (
    JOB,
    at,
    keep_sheet,
    lay_two,
    magnus_dew_c,
    mix,
    read,
    steady,
    whole_coat,
)


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    made = Workbench(store, root / "resources")
    keep_sheet(made, tmp_path)
    made.save_job(JOB)
    return made


def why(bench: Workbench, defect: str, coat: str = "one") -> tuple[Cause, ...]:
    entry = bench.record.add("defect", {"defect": defect}, at_s=at(80), now_s=at(80), coat_id=coat)
    return bench.reviews.causes(entry.number, at(80))


def named(found: tuple[Cause, ...], name: str) -> Cause:
    (one,) = [cause for cause in found if name in cause.name]
    return one


def test_every_defect_of_the_form_has_its_causes() -> None:
    assert set(SUSPECTS) == set(DEFECTS)
    for defect, suspects in SUSPECTS.items():
        assert suspects, defect
        assert len({s.name for s in suspects}) == len(suspects), defect
        assert all(s.checks and s.next_step and s.source for s in suspects), defect


def test_dew_in_the_night_comes_first_for_lost_gloss(bench: Workbench) -> None:
    whole_coat(bench)
    read(bench, 15.9, cold=magnus_dew_c(20, 50) - 0.5)
    first = why(bench, "gloss loss")[0]
    assert first.name == "dew or fog before the film could take it"
    assert any("at or below the dew point" in e.text for e in first.for_it)
    assert "Do not polish" in first.next_step
    assert all(e.supports for e in first.for_it)
    assert not any(e.supports for e in first.against)


def test_a_dry_night_speaks_against_dew(bench: Workbench) -> None:
    whole_coat(bench)
    dew = named(why(bench, "gloss loss"), "dew or fog")
    assert dew.for_it == ()
    assert any("always above the dew point" in e.text for e in dew.against)
    assert dew.weight < 0


def test_a_night_nobody_read_speaks_neither_way(bench: Workbench) -> None:
    mix(bench, 16)
    steady(bench, 15.75, 17.75)
    bench.lay_coat("one", at(16), at(17))
    dew = named(why(bench, "gloss loss"), "dew or fog")
    assert dew.for_it == dew.against == ()
    assert any("not read from Mon 1 Jun 2026 17:45" in text for text in dew.not_known)
    assert dew.weight > 0


def test_without_any_reading_the_usual_cause_stands_first(bench: Workbench) -> None:
    bench.lay_coat("one", at(9), at(10))
    for defect in ("gloss loss", "sags", "soft film", "cracking"):
        found = why(bench, defect)
        assert [c.name for c in found] == [s.name for s in SUSPECTS[defect]]
        assert all(c.for_it == () for c in found)


def test_peeling_past_the_maximum_and_sanded_since(bench: Workbench) -> None:
    lay_two(bench, 40.0)
    first = why(bench, "peeling", "two")[0]
    assert first.name == "bond of the coat below had closed"
    assert "after the bond had closed" in first.for_it[0].text
    bench.log_sanded(at(38), "side", at(38))
    bond = named(why(bench, "peeling", "two"), "bond")
    assert bond.for_it == ()
    assert any("sanded" in e.text for e in bond.against)


def test_too_early_over_the_coat_below(bench: Workbench) -> None:
    lay_two(bench, 16.0)
    first = why(bench, "wrinkling", "two")[0]
    assert "of its minimum gone" in first.for_it[0].text
    assert why(bench, "solvent pop", "two")[0].name == "over the coat below too early"


def test_thick_wet_film_with_the_entry_that_says_so(bench: Workbench) -> None:
    whole_coat(bench)
    film = bench.record.add(
        "film",
        {"film": "wet", "readings": [quantity("180", "µm", "typed")],
         "target_high": quantity("120", "µm", "data sheet")},
        at_s=at(9.5), now_s=at(9.5), coat_id="one",
    )  # fmt: skip
    first = why(bench, "sags")[0]
    assert first.name == "film too thick"
    assert first.for_it[0].entry_number == film.number
    assert "180" in first.for_it[0].text


def test_thinner_and_a_cold_mix(bench: Workbench) -> None:
    batch = mix(
        bench, 9, thinner=quantity("25", "%", "typed"), mix_temp=quantity("9", "°C", "typed")
    )
    bench.lay_coat("one", at(9), at(10))
    found = why(bench, "sags")
    thinned, cold = named(found, "too much thinner"), named(found, "cold paint")
    assert thinned.for_it[0].entry_number == cold.for_it[0].entry_number == batch.number
    assert "25 %" in thinned.for_it[0].text
    assert found[0] is thinned


def test_blush_is_no_matter_of_a_gloss(bench: Workbench) -> None:
    whole_coat(bench)
    assert all(any(e.text == "not an epoxy" for e in c.against) for c in why(bench, "amine blush"))


def test_a_heater_without_a_flue(bench: Workbench) -> None:
    mix(bench, 9)
    steady(bench, 8.75, 12.0)
    bench.lay_coat("one", at(9), at(10))
    entry = read(bench, 10.5, heater="unvented on")
    assert entry is not None
    fumes = named(why(bench, "amine blush"), "heater")
    assert fumes.for_it[0].entry_number == entry.number


def test_evidence_for_never_lowers_a_cause(bench: Workbench) -> None:
    """The same coat with one humid hour more."""
    whole_coat(bench)
    before = {c.name: c.weight for c in why(bench, "bubbles or pinholes")}
    read(bench, 10.5, rh=84.0, cold=24.0)
    after = {c.name: c.weight for c in why(bench, "bubbles or pinholes")}
    assert (
        after["moisture in the air with the hardener"]
        > before["moisture in the air with the hardener"]
    )


def test_a_defect_nobody_knows_has_no_causes(bench: Workbench) -> None:
    whole_coat(bench)
    assert why(bench, "a green glow") == ()


def test_what_is_no_defect_is_refused(bench: Workbench) -> None:
    whole_coat(bench)
    with pytest.raises(InputError, match=r"entry 1: found no defect"):
        bench.reviews.causes(1, at(80))
    with pytest.raises(InputError, match=r"entry 999: found no defect"):
        bench.reviews.causes(999, at(80))
    loose = bench.record.add("defect", {"defect": "sags"}, at_s=at(80), now_s=at(80),
                             coat_id="two")  # fmt: skip
    with pytest.raises(InputError, match=r"found no coat that was begun"):
        bench.reviews.causes(loose.number, at(80))


def test_a_corrected_defect_asks_for_its_own_causes(bench: Workbench) -> None:
    whole_coat(bench)
    entry = bench.record.add("defect", {"defect": "sags"}, at_s=at(80), now_s=at(80),
                             coat_id="one")  # fmt: skip
    bench.record.correct(entry.number, {"defect": "peeling"}, "looked again", at(81))
    found = bench.reviews.causes(entry.number, at(82))
    assert {c.name for c in found} == {s.name for s in SUSPECTS["peeling"]}
