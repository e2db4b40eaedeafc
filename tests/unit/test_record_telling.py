"""Entries and the look back in words."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from advisor.planning.words import Words
from advisor.record.canonical import Json
from advisor.record.effective import ENTRY, STRUCK_OUT, Effective, effective
from advisor.record.entry import quantity
from advisor.record.kinds import KINDS
from advisor.record.review_types import LimitInForce, TimeSpan
from advisor.record.review_words import bounds, film_line, gap_lines, limit_line, lines, span
from advisor.record.telling import facts, late, shown, title
from tests.helpers.record_job import HOUR, START_S, Record, job_review, typed_reading

METRIC = Words("metric", ZoneInfo("Europe/London"), START_S)
US = Words("us", ZoneInfo("Europe/London"), START_S)


def entry_of(kind: str, data: dict[str, Json], late_s: float = 20) -> Effective:
    found = Record().add(kind, data, START_S, late_s=late_s)
    return Effective(found, found)


@pytest.mark.parametrize(
    ("kind", "data", "told"),
    [
        ("reading", typed_reading("14.5", "72", "13.9", "9.5", "4.4"),
         "Air 14.5 °C, humidity 72%, coldest spot 13.9 °C, above dew point 4.4 K"),
        ("reading", {"wind": quantity("3", "m/s", "typed")}, "Wind 3 m/s"),
        ("reading", {"light": "dusk"}, "Reading"),
        ("application", {"event": "patch", "patch": "bow"}, "Patch: bow"),
        ("application", {"event": "not on"}, "Not on after all"),
        ("film", {"film": "wet", "readings": [quantity("80", "µm", "typed"),
                                              quantity("85", "µm", "typed")]},
         "Wet film 80, 85 µm"),
        ("preparation", {"what": "washed"}, "Washed"),
        ("batch end", {"batch": "6", "what": "used up"}, "Batch of entry 6 used up"),
        ("sign-off", {"name": "A. Hand"}, "Signed off by A. Hand"),
    ],
)  # fmt: skip
def test_one_line_for_an_entry(kind: str, data: dict[str, Json], told: str) -> None:
    assert title(entry_of(kind, data).entry, METRIC) == told


def test_every_kind_has_words() -> None:
    for kind in KINDS.values():
        assert title(entry_of(kind.key, {}).entry, METRIC)


def test_a_kind_of_a_later_program_is_still_told() -> None:
    later = replace(entry_of("reading", {}).entry, kind="hull scan")
    assert title(later, METRIC) == "hull scan"
    assert facts(Effective(later, later), METRIC) == ()


def test_a_number_is_told_as_entered_with_its_source() -> None:
    read = entry_of("reading", typed_reading("14.50", "72", "13.9", "9.5", "4.4"))
    told = {fact.key: fact for fact in facts(read, METRIC)}
    assert (told["air_temp"].text, told["air_temp"].source) == ("14.50 °C", "typed, hygro")
    assert (told["dew_point"].text, told["dew_point"].source) == ("9.5 °C", "computed")
    us = {fact.key: fact.text for fact in facts(read, US)}
    # 14.5 °C = 58.1 °F; a difference of 4.4 K = 7.92 F°, without the offset of 32.
    assert (us["air_temp"], us["margin"]) == ("14.50 °C (58.1 °F)", "4.4 K (7.9 F°)")


def test_what_was_entered_in_other_units_stays_first() -> None:
    kept: Json = {"value": "11.89", "unit": "°C", "source": "typed", "entered": "53.4 °F"}
    assert shown(kept, METRIC) == "53.4 °F (11.89 °C)"


def test_several_numbers_have_their_unit_once() -> None:
    """80 µm are 3.1 mil, 90 µm 3.5 mil (25.4 µm each)."""
    film: Json = [quantity("80", "µm", "typed"), quantity("90", "µm", "typed")]
    assert shown(film, METRIC) == "80, 90 µm"
    assert shown(film, US) == "80, 90 µm (3.1, 3.5 mil)"
    typed: Json = [{"value": "78.74", "unit": "µm", "source": "typed", "entered": "3.1 mil"}]
    assert shown(typed, US) == "3.1 mil (78.74 µm)"


def test_rows_and_moments_are_told() -> None:
    batch: dict[str, Json] = {
        "product": "Gloss",
        "parts": [{"part": "base", "batch": "B-1", "value": "0.60", "unit": "L"}, {"part": "thin"}],
    }
    told = {fact.key: fact.text for fact in facts(entry_of("batch", batch), METRIC)}
    assert told["parts"] == "base B-1 0.60 L; thin"
    done = entry_of("preparation", {"finished": "2026-05-14T09:40:00+01:00"})
    assert facts(done, METRIC)[0].text == "Thu 14 May 2026 09:40"


def test_late_is_said_from_a_quarter_of_an_hour_on() -> None:
    assert late(entry_of("reading", {"light": "dusk"}, late_s=15 * 60).entry) == ""
    assert late(entry_of("reading", {"light": "dusk"}, late_s=3 * HOUR).entry) == (
        "written 3 h later"
    )


def correction(record: Record, number: int, rows: list[Json], reason: str) -> None:
    target = record.entries[number - 1]
    record.add(
        "correction",
        {"corrects": str(number), "corrects_hash": target.hash, "reason": reason, "values": rows},
        START_S + HOUR,
        by="B. Other",
    )


def test_a_correction_leaves_what_was_to_be_read() -> None:
    record = Record()
    record.add("reading", typed_reading("14.5", "72", "13.9", "9.5", "4.4"), START_S)
    for was, now, why in (("72", "75", "misread"), ("75", "78", "misread again")):
        rows: list[Json] = [{"field": "rh", "was": quantity(was, "%", "typed"),
                             "now": quantity(now, "%", "typed")}]  # fmt: skip
        correction(record, 1, rows, why)
    moved: list[Json] = [{"field": "at", "was": "2026-05-14T09:00:00+01:00",
                          "now": "2026-05-14T08:30:00+01:00"}]  # fmt: skip
    correction(record, 1, moved, "wrong time")
    told = {fact.key: fact for fact in facts(effective(record.entries)[0], METRIC)}
    assert told["rh"].text == "78%"
    assert [(w.text, w.reason, w.by, w.number) for w in told["rh"].was] == [
        ("72%", "misread", "B. Other", 2),
        ("75%", "misread again", "B. Other", 3),
    ]
    assert told["at"].text == "Thu 14 May 2026 08:30"
    assert told["at"].was[0].text == "Thu 14 May 2026 09:00"


def test_a_value_taken_out_and_an_entry_struck_out_are_told() -> None:
    record = Record()
    record.add("reading", {"light": "dusk"}, START_S)
    correction(record, 1, [{"field": "light", "was": "dusk", "now": ""}], "not seen")
    correction(record, 1, [{"field": ENTRY, "was": "", "now": STRUCK_OUT}], "entered twice")
    found = effective(record.entries)[0]
    told = {fact.key: fact for fact in facts(found, METRIC)}
    assert (told["light"].text, told["light"].was[0].text) == ("", "dusk")
    assert told[ENTRY].was[0].reason == "entered twice"
    assert found.struck_out


# --- the look back ------------------------------------------------------------------------


def test_a_limit_that_was_left_says_for_how_long() -> None:
    hold = job_review().coats[0].limits[2]
    line = limit_line(hold, METRIC)
    assert line.standing == "outside"
    assert line.text.startswith("outside for 5 h 24 min; tightest ")
    assert "asked: at least 2.0 K (assumption)" in line.under
    assert line.under.endswith("read for 15 h of 22 h")


def test_a_limit_without_readings_says_so() -> None:
    assert limit_line(job_review().coats[0].limits[3], METRIC).text == "no reading in this time"


@pytest.mark.parametrize(
    ("low", "high", "told"),
    [(10.0, 30.0, "50.0 °F to 86.0 °F"), (10.0, None, "at least 50.0 °F"),
     (None, 30.0, "at most 86.0 °F"), (None, None, "–")],
)  # fmt: skip
def test_bounds_in_the_readers_units(low: float | None, high: float | None, told: str) -> None:
    assert bounds(LimitInForce("air_temp", "Air", low, high, "°C", "data sheet"), US) == told


def test_a_span_names_its_days() -> None:
    night = TimeSpan(START_S + 10 * HOUR, START_S + 17 * HOUR)
    assert span(night, METRIC) == "Thu 14 May 2026 19:00 to Fri 15 May 2026 02:00 (7 h)"
    hour = TimeSpan(START_S, START_S + HOUR)
    assert span(hour, METRIC) == "Thu 14 May 2026 09:00 to 10:00 (1 h)"


def test_every_finding_of_a_coat_is_told() -> None:
    coat = job_review().coats[0]
    names = [line.name for line in lines(coat, METRIC)]
    assert names[-3:] == ["After undercoat", "Batch", "Wet film"]
    assert len(names) == len(coat.limits) + 3
    told = dict(gap_lines(coat, METRIC))
    assert any("Dry, wipe and prepare again" in text for text in
               told["Surface at or below the dew point"])  # fmt: skip
    assert len(told["No reading"]) == 1
    assert told["To know"] == coat.notes
    plain = replace(coat, dips=(), gaps=(), notes=())
    assert gap_lines(plain, METRIC) == ()


def test_film_in_the_readers_units() -> None:
    """78 to 90 µm are 3.1 to 3.5 mil (25.4 µm each)."""
    line = film_line(job_review().coats[0].films[0], US)
    assert line.text == "4 readings: 3.1 mil to 3.5 mil, mean 3.3 mil"
    assert line.under == "target: 3.0 mil to 3.9 mil"
