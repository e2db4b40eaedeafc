"""Readings a person wrote, in print: what is the same said once, limits, units, whose they are."""

from __future__ import annotations

from dataclasses import replace

import pytest

from advisor.record.report.blocks import Prose, Run, Table
from advisor.record.report.typed_table import typed_readings_table, under_readings

from .test_report_pdf import job_review, job_told, with_entry


def kept(value: str, unit: str, **more: str) -> dict[str, str]:
    return {"value": value, "unit": unit, "source": "typed", **more}


def table_of(rh: str, **more: str) -> tuple[Table, tuple[Prose, ...], int]:
    """The table with one more reading, taken as the first patch went on."""
    review = job_review()
    coat = review.coats[0]
    data = {"rh": kept(rh, "%"), "air_temp": kept("15.5", "°C", **more)}
    review = with_entry(review, "reading", data, "gloss-1")
    entry = replace(review.entries[-1], at_s=coat.started_s, known={})
    told = job_told(replace(review, entries=(*review.entries[:-1], entry)))
    found = typed_readings_table(told, coat, [entry])
    return found, under_readings(told, [entry]), len(found.heads)


def test_only_columns_that_hold_something_are_printed() -> None:
    table, under, _ = table_of("60")
    assert table.heads == ("No", "When, who", "Air", "Limits in force")
    assert under == ()


@pytest.mark.parametrize(("rh", "word"), [("60", "● inside"), ("99", "▲ humidity 99.0")])
def test_a_reading_is_held_against_the_limits_in_force(rh: str, word: str) -> None:
    table, _, _ = table_of(rh)
    judged = "".join(run.text for run in table.rows[0][-1]).replace("\u00a0", " ")
    assert judged.startswith(word)


def test_what_was_entered_in_other_units_stands_beside_the_value() -> None:
    table, _, _ = table_of("60", entered="59.9 °F")
    assert Run("59.9 °F = 15.5 °C (typed)") in table.rows[0][2]


def test_formula_and_pressure_are_said_once_for_all_readings() -> None:
    review = job_review()
    data = {"rh": kept("60", "%"), "formula": "one formula", "pressure": kept("1013", "hPa")}
    for _ in range(3):
        review = with_entry(review, "reading", data, "gloss-1")
    told = job_told(review)
    (said,) = under_readings(told, review.entries[-3:])
    text = "".join(run.text for run in said.runs)
    assert text.count("one formula") == 1
    assert "1013 hPa" in text
    table = typed_readings_table(told, review.coats[0], review.entries[-3:])
    assert not any("one formula" in run.text for row in table.rows for c in row for run in c)
