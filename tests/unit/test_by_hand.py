"""Entries by hand and their corrections: what else changes with them, and what never does."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import pytest

from advisor.base.errors import InputError, RangeError
from advisor.base.store import Store
from advisor.climate.readings import Origin
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.effective import ENTRY, STRUCK_OUT, effective
from advisor.record.entry import Entry, iso, quantity
from advisor.work.by_hand import ByHand, keep_by_hand
from advisor.work.instrument_list import Instrument, keep_instrument
from advisor.work.workbench import Workbench

NOW_S = datetime(2031, 5, 14, 9, 0, tzinfo=UTC).timestamp()
AT_S = NOW_S - 1800
READ: dict[str, Json] = {
    "air_temp": quantity("18.50", "°C", "typed"),
    "rh": quantity("62", "%", "typed"),
    "surface_temp": quantity("16.0", "°C", "typed"),
    "light": "daylight",
}


@pytest.fixture
def bench(store: Store, root: Path) -> Workbench:
    bench = Workbench(store, root / "resources")
    bench.load_demo(NOW_S)
    bench.settings.set("person", "A. Hand")
    return bench


def coat(bench: Workbench) -> str:
    return bench.job_in_hand().next_coats()[0].id


def area(bench: Workbench) -> str:
    return bench.job_in_hand().areas[0].id


def reading(bench: Workbench, **data: Json) -> Entry:
    return keep_by_hand(bench, ByHand("reading", {**READ, **data}, AT_S, area(bench)), NOW_S)


def stored(bench: Workbench, at_s: float) -> tuple[float | None, ...] | None:
    with bench.store.read() as db:
        row = db.execute(
            "SELECT air_temp_c, rh_pct, surface_temp_c FROM reading "
            "WHERE area = ? AND time_s = ? AND origin = ?",
            (bench.readings_area, int(at_s), Origin.TYPED.value),
        ).fetchone()
    return None if row is None else tuple(row)


def test_a_reading_is_kept_as_typed_and_where_every_pane_reads_it(bench: Workbench) -> None:
    entry = reading(bench)
    assert entry.data["air_temp"] == quantity("18.50", "°C", "typed")  # the digits as typed
    assert entry.data["light"] == "daylight"
    assert (entry.by, entry.at_s, entry.area_id) == ("A. Hand", AT_S, area(bench))
    assert stored(bench, AT_S) == (18.5, 62.0, 16.0)
    latest = bench.latest_values(AT_S)["air_temp_c"]
    assert (latest.value, latest.time_s) == (18.5, int(AT_S))


def test_dew_point_and_margin_are_reckoned_and_say_so(bench: Workbench) -> None:
    """Dew point of 18.5 °C and 62 %: 11.1 °C, by the program's own `moist_air` checks."""
    from advisor.physics.moist_air import dew_point_c

    data = reading(bench).data
    dew = dew_point_c(18.5, 62.0)
    assert data["dew_point"] == quantity(f"{dew:.1f}", "°C", "computed")
    assert data["margin"] == quantity(f"{16.0 - dew:.1f}", "K", "computed")


def test_two_thermometers_give_the_humidity(bench: Workbench) -> None:
    from advisor.physics.moist_air import pressure_at_altitude_hpa, rh_from_wet_bulb

    typed: dict[str, Json] = {
        "air_temp": quantity("20.0", "°C", "typed"),
        "wet_bulb": quantity("15.0", "°C", "typed"),
    }
    entry = keep_by_hand(bench, ByHand("reading", typed, AT_S), NOW_S)
    shop = bench.job_in_hand().shop
    assert shop is not None
    assert shop.place is not None
    rh = rh_from_wet_bulb(20.0, 15.0, pressure_at_altitude_hpa(shop.place.altitude_m))
    assert entry.data["rh"] == quantity(f"{rh:.1f}", "%", "computed")
    assert "dew_point" in entry.data


def test_a_value_that_cannot_be_is_refused_and_nothing_is_kept(bench: Workbench) -> None:
    before = bench.record.head()
    with pytest.raises(RangeError):
        reading(bench, rh=quantity("140", "%", "typed"))
    assert bench.record.head() == before
    assert stored(bench, AT_S) is None


def test_the_one_instrument_that_reads_it_is_named(bench: Workbench) -> None:
    keep_instrument(bench, Instrument("hygro", measures="air and humidity"), NOW_S)
    keep_instrument(bench, Instrument("comb", measures="wet film"), NOW_S)
    data = reading(bench).data
    assert data["rh"] == quantity("62", "%", "typed", "hygro")
    assert data["surface_temp"] == quantity("16.0", "°C", "typed")
    film: dict[str, Json] = {"film": "wet", "readings": [quantity("80", "µm", "typed")]}
    entry = keep_by_hand(bench, ByHand("film", film, AT_S, coat_id=coat(bench)), NOW_S)
    assert entry.data["readings"] == [quantity("80", "µm", "typed", "comb")]


@pytest.mark.parametrize(
    ("typed", "told"),
    [
        (ByHand("reading", READ, NOW_S + 3600), "still to come"),
        (ByHand("film", {"film": "wet"}, AT_S), "found no coat"),
        (ByHand("observation", {}, AT_S, "port"), "nothing filled in"),
        (ByHand("correction", {"reason": "x"}, AT_S), "by hand"),
        (ByHand("nonsense", {"a": "x"}, AT_S), "no kind of entry"),
    ],
)
def test_what_cannot_be_kept_says_why(bench: Workbench, typed: ByHand, told: str) -> None:
    before = bench.record.head()
    with pytest.raises(InputError, match=told):
        keep_by_hand(bench, typed, NOW_S)
    assert bench.record.head() == before


def test_the_last_patch_makes_the_coat_one_that_is_on(bench: Workbench) -> None:
    wanted, zone = coat(bench), bench.job_in_hand().time_zone
    data: dict[str, Json] = {"event": "finish", "began": iso(AT_S - 3600, zone), "tool": "roller"}
    entry = keep_by_hand(bench, ByHand("application", data, AT_S, coat_id=wanted), NOW_S)
    laid = bench.job_in_hand().coat(wanted).laid
    assert laid is not None
    assert (laid.start_s, laid.end_s) == (AT_S - 3600, AT_S)
    assert entry.data["tool"] == "roller"
    keep_by_hand(bench, ByHand("application", {"event": "not on"}, AT_S, coat_id=wanted), NOW_S)
    assert bench.job_in_hand().coat(wanted).laid is None


def test_a_patch_is_only_an_entry(bench: Workbench) -> None:
    wanted = coat(bench)
    data: dict[str, Json] = {"event": "patch", "patch": "bow"}
    keep_by_hand(bench, ByHand("application", data, AT_S, coat_id=wanted), NOW_S)
    assert bench.job_in_hand().coat(wanted).laid is None


@pytest.mark.parametrize(
    ("what", "kinds"),
    [("sanded and wiped", {"sanded", "dried"}), ("dried and wiped", {"dried"}), ("washed", set())],
)
def test_drying_and_sanding_are_counted_with(bench: Workbench, what: str, kinds: set[str]) -> None:
    keep_by_hand(bench, ByHand("preparation", {"what": what}, AT_S, area(bench)), NOW_S)
    with bench.store.read() as db:
        rows = db.execute("SELECT kind FROM event WHERE at_s = ?", (int(AT_S),)).fetchall()
    assert {kind for (kind,) in rows} == kinds


# --- corrections --------------------------------------------------------------------------


def corrected(bench: Workbench, entry: Entry, **changes: Json) -> Entry:
    return bench.record.correct(entry.number, changes, "misread", NOW_S)


def now(bench: Workbench, entry: Entry) -> Entry:
    kept = chain.entries(bench.store, entry.job_id)
    return next(e.now for e in effective(kept) if e.entry.number == entry.number)


def test_a_corrected_reading_is_reckoned_anew(bench: Workbench) -> None:
    from advisor.physics.moist_air import dew_point_c

    entry = reading(bench)
    corrected(bench, entry, rh=quantity("82", "%", "typed"))
    data, dew = now(bench, entry).data, dew_point_c(18.5, 82.0)
    assert data["rh"] == quantity("82", "%", "typed")
    assert data["dew_point"] == quantity(f"{dew:.1f}", "°C", "computed")
    assert data["margin"] == quantity(f"{16.0 - dew:.1f}", "K", "computed")
    assert data["light"] == "daylight"
    assert stored(bench, AT_S) == (18.5, 82.0, 16.0)
    kept = chain.entry(bench.store, entry.job_id, entry.number)
    assert kept is not None
    assert kept.line == entry.line  # what was written first is there to the byte


def test_a_value_taken_out_is_no_longer_read(bench: Workbench) -> None:
    entry = reading(bench)
    corrected(bench, entry, surface_temp="")
    data = now(bench, entry).data
    assert "surface_temp" not in data
    assert "margin" not in data
    assert stored(bench, AT_S) == (18.5, 62.0, None)


def test_a_reading_struck_out_is_no_longer_read(bench: Workbench) -> None:
    entry = reading(bench)
    bench.record.correct(entry.number, {ENTRY: STRUCK_OUT}, "entered twice", NOW_S)
    assert stored(bench, AT_S) is None


def test_a_reading_of_another_hour_moves(bench: Workbench) -> None:
    entry = reading(bench)
    corrected(bench, entry, at=iso(AT_S - 3600, entry.zone))
    assert stored(bench, AT_S) is None
    assert stored(bench, AT_S - 3600) == (18.5, 62.0, 16.0)


def test_a_correction_goes_over_the_one_before(bench: Workbench) -> None:
    entry = reading(bench)
    corrected(bench, entry, rh=quantity("72", "%", "typed"))
    second = corrected(bench, entry, rh=quantity("75", "%", "typed"))
    rows = second.data["values"]
    assert isinstance(rows, list | tuple)
    row = next(r for r in rows if isinstance(r, dict) and r["field"] == "rh")
    assert row["was"] == quantity("72", "%", "typed")
    assert now(bench, entry).data["rh"] == quantity("75", "%", "typed")


def test_the_instrument_stays_with_a_corrected_number(bench: Workbench) -> None:
    keep_instrument(bench, Instrument("hygro", measures="air and humidity"), NOW_S)
    entry = reading(bench)
    corrected(bench, entry, rh=quantity("75", "%", "typed"))
    assert now(bench, entry).data["rh"] == quantity("75", "%", "typed", "hygro")


def test_a_correction_needs_a_reason_and_a_change(bench: Workbench) -> None:
    entry, before = reading(bench), bench.record.head()
    with pytest.raises(InputError):
        bench.record.correct(entry.number, {"rh": quantity("75", "%", "typed")}, "  ", NOW_S)
    with pytest.raises(InputError):
        bench.record.correct(entry.number, {"rh": READ["rh"]}, "misread", NOW_S)
    assert bench.record.head() == before


@pytest.mark.parametrize("film", ["wet", "dry"])
def test_the_film_asked_for_stands_beside_what_was_measured(bench: Workbench, film: str) -> None:
    """The same figures as a film measured at the bench; one typed by hand stays."""
    read: list[Json] = [quantity("80", "µm", "typed")]
    data: dict[str, Json] = {"film": film, "readings": read}
    by_hand = keep_by_hand(bench, ByHand("film", data, AT_S, coat_id=coat(bench)), NOW_S)
    at_bench = bench.live.film(coat(bench), ("80",), NOW_S, film)
    assert by_hand.data["target_low"] == at_bench.data["target_low"]
    assert by_hand.data["target_high"] == at_bench.data["target_high"]
    data |= {"target_low": quantity("55", "µm", "typed")}
    own = keep_by_hand(bench, ByHand("film", data, AT_S, coat_id=coat(bench)), NOW_S)
    assert own.data["target_low"] == quantity("55", "µm", "typed")
    assert "target_high" not in own.data
