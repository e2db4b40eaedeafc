"""Corrections applied: what counts now, and what was said first."""

from __future__ import annotations

from dataclasses import replace

from advisor.base.store import Store
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.effective import ENTRY, STRUCK_OUT, counting, effective, value_of
from advisor.record.entry import Draft, Entry, number_of, quantity

ZONE = "Europe/London"
READING = Draft(
    "reading", "dunlin", 1_780_000_000.0, 1_780_000_060.0, ZONE, "A. Reader",
    {"air_temp": quantity("18.5", "°C", "typed"), "rh": quantity("26", "%", "typed")},
    area_id="hull", coat_id="primer",
)  # fmt: skip


def correct(store: Store, entry: Entry, field: str, now: Json, hash_: str | None = None) -> Entry:
    data: dict[str, Json] = {
        "corrects": str(entry.number),
        "corrects_hash": entry.hash if hash_ is None else hash_,
        "reason": "digits swapped",
        "values": [{"field": field, "was": value_of(entry, field), "now": now}],
    }
    draft = Draft("correction", "dunlin", READING.at_s, 1_780_000_900.0, ZONE, "B. Mate", data)
    return chain.add(store, draft, "1.0")


def test_the_value_counts_and_the_original_stays(store: Store) -> None:
    entry = chain.add(store, READING, "1.0")
    correction = correct(store, entry, "rh", quantity("62", "%", "typed"))
    (found,) = effective(chain.entries(store, "dunlin"))
    assert number_of(found.now.data["rh"]) == 62.0
    assert number_of(found.now.data["air_temp"]) == 18.5
    assert found.entry == entry
    (change,) = found.changed("rh")
    assert number_of(change.was) == 26.0
    assert (change.reason, change.by) == ("digits swapped", "B. Mate")
    assert (change.number, change.written_s) == (correction.number, 1_780_000_900.0)
    assert found.changed("air_temp") == ()


def test_the_later_correction_counts_and_both_are_shown(store: Store) -> None:
    entry = chain.add(store, READING, "1.0")
    for value in ("61", "62"):
        correct(store, entry, "rh", quantity(value, "%", "typed"))
    (found,) = effective(chain.entries(store, "dunlin"))
    assert number_of(found.now.data["rh"]) == 62.0
    assert [number_of(c.now) for c in found.changes] == [61.0, 62.0]


def test_time_and_place_can_be_corrected(store: Store) -> None:
    entry = chain.add(store, READING, "1.0")
    correct(store, entry, "at", "2026-05-28T20:00:00+01:00")
    correct(store, entry, "coat", "undercoat")
    correct(store, entry, "area", "deck")
    (now,) = counting(chain.entries(store, "dunlin"))
    assert value_of(now, "at") == "2026-05-28T20:00:00+01:00"
    assert (now.coat_id, now.area_id) == ("undercoat", "deck")
    assert (value_of(now, "coat"), value_of(now, "area")) == ("undercoat", "deck")


def test_a_field_is_struck_out_without_another_value(store: Store) -> None:
    entry = chain.add(store, READING, "1.0")
    correct(store, entry, "rh", "")
    (now,) = counting(chain.entries(store, "dunlin"))
    assert set(now.data) == {"air_temp"}


def test_a_whole_entry_is_struck_out(store: Store) -> None:
    entry = chain.add(store, READING, "1.0")
    chain.add(store, replace(READING, data={"spot": "stem"}), "1.0")
    correct(store, entry, ENTRY, STRUCK_OUT)
    found = effective(chain.entries(store, "dunlin"))
    assert [f.struck_out for f in found] == [True, False]
    assert [e.number for e in counting(chain.entries(store, "dunlin"))] == [2]


def test_a_correction_of_another_hash_counts_for_nothing(store: Store) -> None:
    entry = chain.add(store, READING, "1.0")
    correct(store, entry, "rh", quantity("62", "%", "typed"), hash_="0" * 64)
    (found,) = effective(chain.entries(store, "dunlin"))
    assert found.now is found.entry
