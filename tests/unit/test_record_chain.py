"""The chain: numbers, hashes and what cannot be kept."""

from __future__ import annotations

import hashlib
from dataclasses import replace
from pathlib import Path

import pytest

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.canonical import NO_HASH, canonical
from advisor.record.entry import Draft, number_of, quantity

DRAFT = Draft(
    "reading", "dunlin", 1_780_000_000.0, 1_780_000_060.0, "Europe/London", "A. Reader",
    {"air_temp": quantity("18.50", "°C", "typed")},
)  # fmt: skip


@pytest.fixture
def store(tmp_path: Path) -> Store:
    return Store(tmp_path / "shop.sqlite3")


def test_each_entry_holds_the_hash_of_the_line_before(store: Store) -> None:
    first, second = (chain.add(store, DRAFT, "1.0") for _ in range(2))
    assert (first.number, first.previous) == (1, NO_HASH)
    assert (second.number, second.previous) == (2, first.hash)
    kept = list(chain.lines(store, "dunlin"))
    assert [hashlib.sha256(line).hexdigest() for line in kept] == [first.hash, second.hash]
    assert chain.head_of(store, "dunlin") == chain.Head(2, second.hash)


def test_an_entry_reads_back_as_it_was_entered(store: Store) -> None:
    """The typed digits stay: 18.50 was read to a hundredth, 18.5 was not."""
    entry = chain.add(store, DRAFT, "1.0")
    assert chain.entries(store, "dunlin") == (entry,)
    assert entry.data["air_temp"] == {"source": "typed", "unit": "°C", "value": "18.50"}
    assert number_of(entry.data["air_temp"]) == 18.5
    assert (entry.at_s, entry.late_s) == (1_780_000_000.0, 60.0)


def test_each_job_has_its_own_record(store: Store) -> None:
    chain.add(store, DRAFT, "1.0")
    other = chain.add(store, replace(DRAFT, job_id="other"), "1.0")
    assert (other.number, other.previous) == (1, NO_HASH)


def test_the_entries_of_all_jobs_are_counted_by_their_ends(store: Store) -> None:
    with store.read() as db:
        assert chain.entries_of_all(db) == 0
    for job_id, count in (("b", 3), ("a", 1), ("c", 2)):
        for _ in range(count):
            chain.add(store, replace(DRAFT, job_id=job_id), "1.0")
    with store.read() as db:
        assert chain.entries_of_all(db) == 6


def test_canonical_json_is_that_of_rfc_8785() -> None:
    """RFC 8785 (2020), sections 3.2.2 and 3.2.3: order by UTF-16 units, escapes, no spaces."""
    value = {"\u20ac": "Euro", "\r": "return", "1": "one", "\U0001f600": "smile", "\ufb33": "dalet"}
    assert canonical(value).decode() == (
        '{"\\r":"return","1":"one","€":"Euro","😀":"smile","\ufb33":"dalet"}'
    )


@pytest.mark.parametrize("value", [{"a": 1.5}, {"a": [0.0]}, {"a": {"b": 2**60}}])
def test_no_fraction_reaches_the_hash(value: dict[str, object]) -> None:
    with pytest.raises(InputError):
        canonical(value)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "data",
    [
        {"air": quantity("18.5", "°C", "typed")},
        {"air_temp": quantity("warm", "°C", "typed")},
        {"air_temp": quantity("nan", "°C", "typed")},
        {"air_temp": "18.5"},
        {"air_temp": {"value": "18.5"}},
    ],
)
def test_what_cannot_be_kept_is_refused_and_nothing_is_added(
    store: Store, data: dict[str, object]
) -> None:
    with pytest.raises(InputError):
        chain.add(store, replace(DRAFT, data=data), "1.0")  # type: ignore[arg-type]
    assert chain.head_of(store, "dunlin").entries == 0
