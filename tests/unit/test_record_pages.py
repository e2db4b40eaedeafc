"""Filter, search and pages of a record, against a plain walk over its entries."""

from __future__ import annotations

from dataclasses import replace

import pytest

from advisor.base.store import Store
from advisor.record import chain
from advisor.record.canonical import NO_HASH
from advisor.record.entry import Draft, Entry, quantity
from advisor.record.pages import Wanted, corrected_page, corrections, find, page

JOB = "dunlin"
AT_S = 1_780_000_000.0


def draft(kind: str, data: dict[str, object], coat: str = "", by: str = "A. Hand") -> Draft:
    area = "port" if coat != "stripe" else "sheer"
    return Draft(kind, JOB, AT_S, AT_S, "Europe/London", by, data, area, coat)  # type: ignore[arg-type]


@pytest.fixture
def record(store: Store) -> tuple[Entry, ...]:
    """Nine entries of four kinds, two coats, two people."""
    drafts = (
        draft("reading", {"air_temp": quantity("18.5", "°C", "typed"), "light": "daylight"}),
        draft("batch", {"product": "Two-part gloss", "colour": 'off-white "cream"'}, "gloss"),
        draft("application", {"event": "patch", "patch": "bow_1"}, "gloss"),
        draft("application", {"event": "patch", "patch": "bowx1"}, "stripe", "B. Other"),
        draft("observation", {"text": "100 % of the Größe is back\\slash"}, "gloss"),
        draft("correction", {"corrects": "1", "corrects_hash": NO_HASH, "reason": "misread"}),
        draft("correction", {"corrects": "3", "corrects_hash": NO_HASH, "reason": "bow, not aft"}),
        draft("correction", {"corrects": "1", "corrects_hash": NO_HASH, "reason": "again"}),
        draft("defect", {"defect": "gloss loss"}, "gloss"),
    )
    return tuple(chain.add(store, one, "1.0") for one in drafts)


@pytest.mark.parametrize(
    ("wanted", "numbers"),
    [
        (Wanted(), [1, 2, 3, 4, 5, 6, 7, 8, 9]),
        (Wanted(kinds=("application",)), [3, 4]),
        (Wanted(kinds=("batch", "defect")), [2, 9]),
        (Wanted(coat_id="gloss"), [2, 3, 5, 9]),
        (Wanted(area_id="sheer"), [4]),
        (Wanted(coat_id="gloss", kinds=("application",)), [3]),
        (Wanted(words="MISREAD"), [6]),
        (Wanted(words="bow not"), [7]),  # every word, in any order
        (Wanted(words="other"), [4]),  # by whom
        (Wanted(words="bow_1"), [3]),  # a line is a letter, not "any letter"
        (Wanted(words="100 %"), [5]),
        (Wanted(words='"cream"'), [2]),
        (Wanted(words="back\\slash"), [5]),
        (Wanted(words="Größe"), [5]),
        (Wanted(words="18.5"), [1]),
        (Wanted(words="7"), [7]),  # an entry by its number
        (Wanted(words="dunlin"), []),  # the same in every line: says nothing
        (Wanted(words="zzz"), []),
        (Wanted(kinds=("photo",)), []),
    ],
)
def test_what_a_filter_finds(
    store: Store, record: tuple[Entry, ...], wanted: Wanted, numbers: list[int]
) -> None:
    found = find(store, JOB, wanted)
    assert list(found.numbers) == numbers
    assert found.entries == len(record)


def test_a_page_comes_in_the_order_asked(store: Store, record: tuple[Entry, ...]) -> None:
    assert page(store, JOB, [9, 2, 77, 4]) == (record[8], record[1], record[3])
    assert page(store, JOB, []) == ()
    many = list(range(1, 1200))
    assert page(store, JOB, many) == record


def test_each_entry_knows_its_corrections(store: Store, record: tuple[Entry, ...]) -> None:
    found = corrections(store, JOB)
    assert found.of == {1: (6, 8), 3: (7,)}
    assert (found.entries, found.hash) == (len(record), record[-1].hash)


def test_only_what_was_added_since_is_read(store: Store, record: tuple[Entry, ...]) -> None:
    known = corrections(store, JOB)
    again = draft("correction", {"corrects": "3", "corrects_hash": NO_HASH, "reason": "again"})
    chain.add(store, again, "1.0")
    marked = replace(known, of={99: (1,)})  # shows whether what is known was taken over
    assert corrections(store, JOB, marked).of == {99: (1,), 3: (10,)}
    # A record that was gone back to a copy is read from its beginning.
    assert corrections(store, JOB, replace(marked, hash=NO_HASH)).of == {1: (6, 8), 3: (7, 10)}
    assert corrections(store, JOB, replace(marked, entries=500)).of == {1: (6, 8), 3: (7, 10)}


def test_a_page_has_its_corrections_applied(store: Store) -> None:
    first = chain.add(store, draft("observation", {"text": "fog"}), "1.0")
    second = chain.add(store, draft("observation", {"text": "sun"}), "1.0")
    rows = [{"field": "text", "was": "fog", "now": "mist"}]
    data = {"corrects": "1", "corrects_hash": first.hash, "reason": "seen from afar"}
    third = chain.add(store, draft("correction", {**data, "values": rows}), "1.0")
    of = corrections(store, JOB).of
    told = corrected_page(store, JOB, [3, 2, 1], of)
    assert [t.entry for t in told] == [third, second, first]
    assert [t.now.data.get("text") for t in told] == [None, "sun", "mist"]
    # The correction is applied where it is not asked for itself, too.
    assert corrected_page(store, JOB, [1], of)[0].now.data["text"] == "mist"


def test_an_empty_record(store: Store) -> None:
    assert list(find(store, JOB, Wanted()).numbers) == []
    assert find(store, JOB, Wanted(words="x")).entries == 0
    assert corrections(store, JOB).of == {}
    assert corrections(store, JOB, corrections(store, JOB)).of == {}
