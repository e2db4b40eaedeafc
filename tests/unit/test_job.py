"""A job's own sequence on each area: what is below, above, on top and still to do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from advisor.planning.job import Area, Coat, Job, Laid

HULL, DECK = Area("hull", "hull side", 12.0), Area("deck", "deck", 5.0)
LAID = Laid(1000.0, 2000.0)


def coat(coat_id: str, area: str, *, laid: Laid | None = None, pace: float = 6.0) -> Coat:
    return Coat(coat_id, f"coat {coat_id}", area, "some-gloss", pace, laid=laid)


def job(*coats: Coat) -> Job:
    return Job("gig", "Pilot gig", "shed", "UTC", (HULL, DECK), coats)


#: Hull and deck take turns, as a crew works: each area still has its own order.
MIXED = job(
    coat("h1", "hull", laid=LAID),
    coat("d1", "deck", laid=LAID),
    coat("h2", "hull", laid=LAID),
    coat("d2", "deck"),
    coat("h3", "hull"),
)


def ids(coats: tuple[Coat, ...]) -> list[str]:
    return [found.id for found in coats]


@pytest.mark.parametrize(
    ("coat_id", "below", "above"),
    [
        ("h1", None, "h2"),
        ("h2", "h1", "h3"),
        ("h3", "h2", None),
        ("d1", None, "d2"),
        ("d2", "d1", None),
    ],
)
def test_below_and_above_stay_on_the_area(
    coat_id: str, below: str | None, above: str | None
) -> None:
    found = MIXED.coat(coat_id)
    under, over = MIXED.below(found), MIXED.above(found)
    assert (under and under.id) == below
    assert (over and over.id) == above


def test_above_undoes_below() -> None:
    for found in MIXED.coats:
        under = MIXED.below(found)
        if under is not None:
            assert MIXED.above(under) == found


def test_top_coats_are_the_last_laid_of_each_area_in_order() -> None:
    assert ids(MIXED.top_coats()) == ["d1", "h2"]
    assert job(coat("h1", "hull")).top_coats() == ()


def test_next_coats_are_all_still_to_do() -> None:
    assert ids(MIXED.next_coats()) == ["d2", "h3"]


def test_laying_a_coat_moves_it_from_next_to_top() -> None:
    after = MIXED.with_coat(replace(MIXED.coat("h3"), laid=LAID))
    assert ids(after.next_coats()) == ["d2"]
    assert ids(after.top_coats()) == ["d1", "h3"]
    assert ids(after.coats) == ids(MIXED.coats)
    assert MIXED.coat("h3").laid is None  # the job given is left alone


def test_with_a_coat_of_another_id_changes_nothing() -> None:
    assert MIXED.with_coat(coat("h9", "hull")) == MIXED


def test_hours_are_area_by_pace() -> None:
    assert MIXED.apply_h(MIXED.coat("h1")) == 2.0
    assert MIXED.apply_h(coat("x", "deck", pace=20.0)) == 0.25


def test_unknown_ids_are_key_errors_that_name_them() -> None:
    for ask in (MIXED.area, MIXED.coat):
        with pytest.raises(KeyError, match="keel"):
            ask("keel")
