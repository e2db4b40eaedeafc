"""Corrections change what they show and what follows from it, and nothing else."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.base.errors import InputError
from advisor.base.store import Store
from advisor.climate import reading_store
from advisor.climate.readings import Origin
from advisor.record.canonical import Json
from advisor.record.entry import Entry, iso, number_of, quantity
from advisor.record.review.observed import observed
from advisor.work import correcting
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.moments import AHEAD_S
from advisor.work.workbench import Workbench

NOW_S = 1_780_300_000.0
#: What is reckoned in print has one decimal.
PRINTED = 0.051


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    bench = Workbench(store, root / "resources")
    bench.load_demo(NOW_S)
    bench.settings.set("person", "A. Painter")
    return bench


def typed(bench: Workbench, at_s: float = NOW_S - 60, **values: str) -> Entry:
    units = {"rh": "%"}
    data = {name: quantity(value, units.get(name, "°C"), "typed") for name, value in values.items()}
    return keep_by_hand(bench, ByHand("reading", data, at_s), NOW_S)


def row(bench: Workbench, at_s: float = NOW_S - 60) -> dict[str, float]:
    """What every pane reads of one second."""
    area = bench.readings_area
    table = reading_store.load(bench.store, int(at_s), int(at_s), area, (Origin.TYPED,))
    return {name: float(column[0]) for name, column in table.columns.items()
            if len(column) and column[0] == column[0]}  # fmt: skip


def test_a_correction_made_meanwhile_in_another_window_is_not_gone_over(
    bench: Workbench, root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Otherwise the second would say it was what it no longer was."""
    entry = typed(bench, air_temp="18", rh="60")
    reckoned = correcting._reckoned

    def and_another(*given: object) -> dict[str, Json]:
        monkeypatch.setattr(correcting, "_reckoned", reckoned)
        other = Workbench(bench.store, root / "resources")
        other.record.correct(entry.number, {"rh": quantity("65", "%", "typed")}, "first", NOW_S)
        return reckoned(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(correcting, "_reckoned", and_another)
    with pytest.raises(InputError, match="meanwhile"):
        bench.record.correct(entry.number, {"rh": quantity("70", "%", "typed")}, "second", NOW_S)
    assert [c.now for c in bench.record.told(entry.number).changed("rh")] == [
        quantity("65", "%", "typed")
    ]
    assert row(bench)["rh_pct"] == 65.0


def test_what_was_typed_beside_it_in_the_same_second_stays(bench: Workbench) -> None:
    """Forms give whole minutes: air and surface of one minute may be two entries."""
    air = typed(bench, air_temp="18", rh="60")
    surface = typed(bench, surface_temp="15")
    bench.record.strike_out(air.number, "wrong shed", NOW_S)
    assert row(bench) == {"surface_temp_c": 15.0}
    bench.record.correct(surface.number, {"at": iso(NOW_S - 600, "UTC")}, "earlier", NOW_S)
    assert row(bench) == {}
    assert row(bench, NOW_S - 600) == {"surface_temp_c": 15.0}


def test_one_moved_into_a_second_is_still_there_when_the_other_goes(bench: Workbench) -> None:
    moved = typed(bench, NOW_S - 600, surface_temp="15")
    bench.record.correct(moved.number, {"at": iso(NOW_S - 60, "UTC")}, "later", NOW_S)
    other = typed(bench, air_temp="18", rh="60")
    bench.record.strike_out(other.number, "wrong shed", NOW_S)
    assert row(bench) == {"surface_temp_c": 15.0}


@pytest.mark.parametrize("field", ["wet_bulb", "air_temp"])
def test_humidity_of_two_thermometers_follows_either(bench: Workbench, field: str) -> None:
    right = typed(bench, NOW_S - 600, air_temp="20", wet_bulb="15", surface_temp="17")
    slip = {"air_temp": "20", "wet_bulb": "15", field: "17"}
    entry = typed(bench, NOW_S - 60, surface_temp="17", **slip)
    good = quantity("20" if field == "air_temp" else "15", "°C", "typed")
    bench.record.correct(entry.number, {field: good}, "slip", NOW_S)
    now = bench.record.told(entry.number).now
    for name in ("rh", "dew_point", "margin"):
        assert now.data[name] == right.data[name]
    assert row(bench)["rh_pct"] == pytest.approx(number_of(right.data["rh"]), abs=PRINTED)


def test_a_moment_still_to_come_is_no_correction(bench: Workbench) -> None:
    entry = typed(bench, air_temp="18", rh="60")
    ahead = iso(NOW_S + AHEAD_S + 60, "UTC")
    with pytest.raises(InputError, match="still to come"):
        bench.record.correct(entry.number, {"at": ahead}, "slip", NOW_S)
    assert row(bench)["rh_pct"] == 60.0


def test_a_failing_reading_is_not_hidden_by_a_better_one_of_the_same_second(
    bench: Workbench,
) -> None:
    """Typing anew is no correction: both were read, both count."""
    typed(bench, air_temp="18", rh="95")
    typed(bench, air_temp="18", rh="60")
    record = bench.reviews._record(bench.job_in_hand())
    seen = observed((), record)
    assert sorted(seen.columns["rh_pct"].tolist()) == [60.0, 95.0]


def test_two_halves_of_a_reading_are_one(bench: Workbench) -> None:
    typed(bench, air_temp="18", rh="60")
    typed(bench, surface_temp="15")
    seen = observed((), bench.reviews._record(bench.job_in_hand()))
    assert (len(seen), seen.columns["rh_pct"][0], seen.columns["surface_temp_c"][0]) == (1, 60, 15)


def test_a_better_one_told_as_a_correction_counts_alone(bench: Workbench) -> None:
    entry = typed(bench, air_temp="18", rh="95")
    bench.record.correct(entry.number, {"rh": quantity("59", "%", "typed")}, "digits", NOW_S)
    seen = observed((), bench.reviews._record(bench.job_in_hand()))
    assert seen.columns["rh_pct"].tolist() == [59.0]
