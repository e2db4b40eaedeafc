"""The bench read from the record alone. Invented entries; no numbers from outside."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from advisor.base.store import Store
from advisor.record import chain
from advisor.record.bench_state import BenchState, Finished, Patch, fold
from advisor.record.canonical import Json
from advisor.record.entry import Draft, Entry, iso, quantity
from tests.helpers.live_bench import MIN, NOW


class Book:
    """A record being written: each line is an entry at so many minutes."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def add(self, minute: float, kind: str, coat: str = "first", **data: Json) -> Entry:
        at_s = NOW + minute * MIN
        draft = Draft(kind, "j", at_s, at_s, "UTC", "E. Mill", data, "side", coat)
        return chain.add(self._store, draft, "test")

    def batch(self, minute: float, coat: str = "first") -> int:
        return self.add(minute, "batch", coat, product="own gloss").number

    def event(self, minute: float, event: str, coat: str = "first", **data: Json) -> Entry:
        return self.add(minute, "application", coat, event=event, **data)

    def correct(self, entry: Entry, field: str, now: Json) -> None:
        row: dict[str, Json] = {"field": field, "now": now}
        self.add(999, "correction", "", corrects=str(entry.number), corrects_hash=entry.hash,
                 reason="misread", values=[row])  # fmt: skip

    def state(self) -> BenchState:
        return fold(chain.entries(self._store, "j"))


def names(patches: Sequence[Patch]) -> list[str]:
    return [patch.name for patch in patches]


def test_nothing_yet(store: Store) -> None:
    assert fold(()) == BenchState()


def test_a_start_that_names_its_patch_is_the_first_of_them(store: Store) -> None:
    book = Book(store)
    book.event(30, "start", patch="bow")
    book.event(50, "patch")
    going = book.state().at_work()
    assert going is not None
    assert [(patch.name, patch.at_s) for patch in going.patches] == [
        ("bow", NOW + 30 * MIN),
        ("patch 2", NOW + 50 * MIN),
    ]


def test_a_whole_coat(store: Store) -> None:
    book = Book(store)
    batch = book.batch(0)
    book.event(30, "start", batch=str(batch))
    book.event(50, "patch", patch="bow")
    book.event(70, "patch")
    book.add(72, "film", film="wet", readings=[quantity("80", "µm", "typed")])
    going = book.state().at_work()
    assert going is not None
    assert (going.started_s, going.last_s) == (NOW + 30 * MIN, NOW + 70 * MIN)
    assert names(going.patches) == ["bow", "patch 2"]
    assert (going.wet_um, going.batches) == ((80.0,), (batch,))
    book.event(90, "finish")
    state = book.state()
    assert state.going == ()
    assert state.finished == (Finished("first", NOW + 30 * MIN, NOW + 90 * MIN),)
    assert [b.number for b in state.batches] == [batch]
    book.add(95, "batch end", batch=str(batch), what="used up")
    assert book.state().batches == ()


def test_a_restart_in_the_middle_changes_nothing(store: Store) -> None:
    """Folding all at once and folding what another program read again: the same bench."""
    book = Book(store)
    book.batch(0)
    book.event(30, "start")
    before = book.state()
    with Store(store.path) as reopened:
        assert fold(chain.entries(reopened, "j")) == before


def test_stop_and_carry_on(store: Store) -> None:
    book = Book(store)
    book.event(0, "start")
    book.event(10, "stop")
    going = book.state().at_work()
    assert going is not None
    assert going.stopped_s == NOW + 10 * MIN
    book.event(20, "carry on")
    going = book.state().at_work()
    assert going is not None
    assert going.stopped_s is None


def test_two_batches_open_and_each_ends_by_its_number(store: Store) -> None:
    book = Book(store)
    one, two = book.batch(0), book.batch(40)
    book.add(50, "batch end", batch=str(two), what="discarded")
    assert [b.number for b in book.state().batches] == [one]
    assert book.state().batch(two) is None


def test_two_coats_going_on_side_by_side(store: Store) -> None:
    book = Book(store)
    book.event(0, "start", "first")
    book.event(5, "start", "deck")
    book.event(10, "patch", "first", patch="bow")
    state = book.state()
    last, deck = state.at_work(), state.at_work("deck")
    assert last is not None
    assert deck is not None
    assert (last.coat_id, deck.patches) == ("first", ())


def test_a_batch_without_an_end_stays_open(store: Store) -> None:
    book = Book(store)
    one = book.batch(0)
    book.batch(10_000)
    assert next(b.number for b in book.state().batches) == one


def test_a_late_entry_stands_where_it_happened(store: Store) -> None:
    """Written after the finish, done before it: it does not open the coat again."""
    book = Book(store)
    book.event(0, "start")
    book.event(60, "finish")
    book.event(20, "patch", patch="bow")
    assert book.state().going == ()


def test_a_coat_noted_afterwards_has_its_first_patch(store: Store) -> None:
    book = Book(store)
    book.event(60, "finish", began=iso(NOW, "UTC"))
    assert book.state().finished == (Finished("first", NOW, NOW + 60 * MIN),)


def test_a_coat_taken_back_is_not_on(store: Store) -> None:
    book = Book(store)
    book.event(60, "finish", began=iso(NOW, "UTC"))
    book.event(70, "not on")
    assert book.state() == BenchState()


def test_a_corrected_time_counts(store: Store) -> None:
    book = Book(store)
    start = book.event(0, "start")
    book.correct(start, "at", iso(NOW + 15 * MIN, "UTC"))
    going = book.state().at_work()
    assert going is not None
    assert going.started_s == NOW + 15 * MIN


def test_a_corrected_mix_temperature_counts(store: Store) -> None:
    book = Book(store)
    mixed = book.add(0, "batch", product="own gloss", mix_temp=quantity("30", "°C", "typed"))
    book.correct(mixed, "mix_temp", quantity("20", "°C", "typed"))
    assert book.state().batches[0].data["mix_temp"] == quantity("20", "°C", "typed")


def test_a_struck_out_entry_never_happened(store: Store) -> None:
    book = Book(store)
    start = book.event(0, "start")
    book.correct(start, "entry", "struck out")
    assert book.state() == BenchState()


def test_a_correction_that_points_elsewhere_changes_nothing(store: Store) -> None:
    book = Book(store)
    start = book.event(0, "start")
    book.correct(replace(start, hash="0" * 64), "entry", "struck out")
    assert len(book.state().going) == 1


def test_words_where_numbers_belong_are_passed_by(store: Store) -> None:
    book = Book(store)
    one = book.batch(0)
    book.add(5, "batch end", batch="the last one", what="used up")
    assert [b.number for b in book.state().batches] == [one]
