"""Evidence for causes where the record is thin, told late, or has more than one batch.

Figures and products are those of `test_reviews`, invented and round.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.base.store import Store
from advisor.record.canonical import Json
from advisor.record.entry import quantity
from advisor.record.review_types import Cause
from advisor.work.workbench import Workbench
from tests.unit.test_causes import named, why
from tests.unit.test_reviews import SHEET, at, mix, shop, steady


@pytest.fixture
def bench(store: Store, root: Path, tmp_path: Path) -> Workbench:
    return shop(store, root, tmp_path)


def event(bench: Workbench, what: str, hours: float, **data: Json) -> None:
    bench.record.add("application", {"event": what, **data}, at_s=at(hours), now_s=at(hours),
                     coat_id="one")  # fmt: skip


def sides(cause: Cause, part: str) -> tuple[int, int, int]:
    """How many facts with a word speak for a cause, against it, and are not known."""
    return (
        sum(part in e.text for e in cause.for_it),
        sum(part in e.text for e in cause.against),
        sum(part in text for text in cause.not_known),
    )


def epoxy(bench: Workbench, folder: Path, induction: str) -> None:
    text = SHEET.format(revision="A", rh_pct=85).replace("two-part-gloss", "epoxy-undercoat")
    text = text.replace("dew_safe_h = [16, 8, 4]\n", "")
    path = folder / "own-gloss.toml"
    path.write_text(text.replace("pot_life_h", f"{induction}\npot_life_h"), encoding="utf-8")
    bench.add_product_file(path)


def test_induction_as_it_was_kept_with_each_batch(bench: Workbench, tmp_path: Path) -> None:
    """The data sheet of today asks 6 min; the second batch was kept with 30 min and stood 12."""
    epoxy(bench, tmp_path, "induction_h = [0.1, 0.1, 0.1]")
    mix(bench, 9, induction=quantity("0.5", "h", "data sheet"))
    second = mix(bench, 11, induction=quantity("0.5", "h", "data sheet"))
    steady(bench, 8.75, 24.75)
    event(bench, "start", 9.5)
    event(bench, "patch", 11.2, batch=str(second.number))
    event(bench, "finish", 12, batch=str(second.number))
    found = named(why(bench, "amine blush"), "induction")
    assert sides(found, "induction") == (1, 0, 0)
    assert found.for_it[0].entry_number == second.number


def test_a_blank_induction_speaks_neither_way(bench: Workbench, tmp_path: Path) -> None:
    """Blank at 20 °C, where the batch was mixed."""
    epoxy(bench, tmp_path, 'induction_h = [0.5, "-", "-"]')
    mix(bench, 9)
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(9.01), at(10))
    found = named(why(bench, "amine blush"), "induction")
    assert not any("asked" in e.text for e in (*found.for_it, *found.against))
    assert any("induction" in text for text in found.not_known)


def test_one_batch_not_known_is_not_against_an_old_one(bench: Workbench) -> None:
    first = mix(bench, 9)
    steady(bench, 8.75, 24.75)
    event(bench, "start", 9, batch=str(first.number))
    event(bench, "finish", 10, batch=str(first.number))
    mix(bench, 9.5)  # no word of when it was used
    found = named(why(bench, "soft film"), "pot life")
    assert (len(found.for_it), len(found.against), len(found.not_known)) == (0, 0, 1)


def test_a_thick_film_points_at_the_entry_that_read_it(bench: Workbench) -> None:
    mix(bench, 9)
    steady(bench, 8.75, 24.75)
    bench.lay_coat("one", at(9), at(10))
    most = {"target_high": quantity("120", "µm", "data sheet")}
    numbers = []
    for film, value in (("dry", "55"), ("wet", "90"), ("wet", "140"), ("wet", "100")):
        data: dict[str, Json] = {"film": film, "readings": [quantity(value, "µm", "typed")], **most}
        numbers.append(bench.record.add("film", data, at_s=at(9.5), now_s=at(9.5),
                                        coat_id="one").number)  # fmt: skip
    found = named(why(bench, "sags"), "film too thick")
    assert found.for_it[0].entry_number == numbers[2]
