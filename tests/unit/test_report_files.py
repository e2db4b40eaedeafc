"""The report as JSON and CSV, the readings that stand in it, and the lines of its chart."""

from __future__ import annotations

import csv
import io
import itertools
import json
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.planning.words import Words
from advisor.record.report.csv_files import csv_files
from advisor.record.report.curves import both, crossings, pieces, time_ticks, value_ticks
from advisor.record.report.json_file import report_json
from advisor.record.report.say import Say
from advisor.record.report.thin import picture_rows, table_rows
from advisor.record.report.told import Told, told
from advisor.record.review_types import CoatReview, JobReview, ReadingsOfCoat, TimeSpan
from tests.helpers.record_job import HOUR, START_S, job_review, with_entry

LONDON = ZoneInfo("Europe/London")
SAY = Say(Words("metric", LONDON))


def at(review: JobReview | None = None) -> Told:
    return told(review or job_review(), SAY, lambda _: None)


def table(name: str, review: JobReview | None = None) -> list[dict[str, str]]:
    text = csv_files(at(review))[name].decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text, newline="")))


def coat_of(
    time_s: list[int], margin: list[float], source: list[str] | None = None, **changes: object
) -> CoatReview:
    """The first coat with other readings: surface `margin` over a dew point of 5 °C."""
    n = len(time_s)
    dew, over = np.full(n, 5.0), np.array(margin, dtype=float)
    readings = ReadingsOfCoat(
        np.array(time_s, dtype=np.int64), dew + 6, np.full(n, 60.0), dew, dew + over, over,
        tuple(source or ["measured"] * n), np.zeros(n, dtype=bool),
    )  # fmt: skip
    first = job_review().coats[0]
    return replace(first, readings=readings, gaps=(), **changes)  # type: ignore[arg-type]


# --- JSON --------------------------------------------------------------------------------


def test_json_has_the_findings_every_reading_and_every_entry() -> None:
    review = job_review()
    found = json.loads(report_json(at(review)))
    assert found["record"] == {"entries": len(review.entries), "head": review.head}
    coat = found["coats"][0]
    assert coat["standing"] == "outside"
    assert [limit["rule"] for limit in coat["limits"]] == [
        "air_temp", "margin", "hold_margin", "humidity"
    ]  # fmt: skip
    assert coat["limits"][3]["worst"] is None  # not known is null, never zero
    assert coat["limits"][2]["outside_h"] == pytest.approx(5.4, abs=1e-9)  # 324 min as printed
    assert len(coat["readings"]["time"]) == len(review.coats[0].readings.time_s)
    assert coat["readings"]["time"][0] == "2026-05-14T08:50:00+01:00"
    assert [e["hash"] for e in found["entries"]] == [e.hash for e in review.entries]
    assert found["entries"][4]["entry"]["data"]["rh"]["value"] == "72"


def test_json_of_readings_with_holes_is_json() -> None:
    """NaN is no JSON: strict readers in other programs refuse it."""
    review = job_review()
    holes = coat_of([START_S, START_S + 60], [np.nan, 2.0])
    body = report_json(at(replace(review, coats=(holes,))))

    def refuse(name: str) -> None:
        raise AssertionError(name)

    found = json.loads(body, parse_constant=refuse)
    assert found["coats"][0]["readings"]["margin_k"] == [None, 2.0]


# --- CSV ---------------------------------------------------------------------------------


def test_csv_has_every_reading_with_its_source() -> None:
    rows = table("readings.csv")
    review = job_review()
    assert len(rows) == sum(len(c.readings.time_s) for c in review.coats)
    assert rows[0]["time"] == "2026-05-14T08:50:00+01:00"
    assert {row["source"] for row in rows} == {"typed", "imported", "measured"}
    assert [row for row in rows if row["doubtful"] == "yes"]


def test_csv_leaves_empty_what_is_not_known() -> None:
    review = job_review()
    holes = coat_of([START_S, START_S + 60], [np.nan, 2.0])
    rows = table("readings.csv", replace(review, coats=(holes,)))
    assert [(row["margin_k"], row["surface_temp_c"]) for row in rows] == [("", ""), ("2", "7")]


def test_csv_shows_what_was_entered_beside_what_counts_now() -> None:
    rows = table("entries.csv")
    humid = next(row for row in rows if row["number"] == "5" and row["field"] == "rh")
    assert humid["as_entered"] == "72 % (typed, hygro)"
    assert humid["counts_now"] == "75 % (typed, hygro)"
    assert humid["corrected"] == "No 15"
    assert table("corrections.csv")[0]["reason"] == "misread: the second digit was a 5"


def test_csv_of_batches_has_a_row_for_each_component() -> None:
    rows = [row for row in table("batches.csv") if row["coat"] == "gloss-1"]
    assert [(row["part"], row["lot"]) for row in rows] == [
        ("base", "B-1107"), ("hardener", "H-2214"), ("thinner", "")
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "shown"),
    [("=1+1", "'=1+1"), ("@x", "'@x"), ("+49", "'+49"), ("- none", "'- none"), ("-3.5", "-3.5"),
     ("plain, with comma\nand line", "plain, with comma\nand line")],
)  # fmt: skip
def test_a_spreadsheet_runs_nothing_that_was_typed(typed: str, shown: str) -> None:
    review = with_entry(job_review(), "observation", {"what": "gloss", "text": typed}, "gloss-1")
    row = next(r for r in table("entries.csv", review) if r["field"] == "text" and r["number"] ==
               str(len(review.entries)))  # fmt: skip
    assert row["as_entered"] == shown


# --- which readings are printed ----------------------------------------------------------


@given(
    st.lists(st.integers(1, 40_000), min_size=1, max_size=300),
    st.integers(0, 2**31),
    st.integers(5, 60),
)
def test_every_reading_stands_behind_one_printed_row(
    steps: list[int], seed: int, most: int
) -> None:
    rng = np.random.default_rng(seed)
    times = [int(t) for t in START_S + np.cumsum(steps)]
    margin = [float(v) for v in rng.normal(2, 2, len(times))]
    coat = coat_of(times, margin, [str(s) for s in rng.choice(["typed", "imported"], len(times))])
    thinned = table_rows(coat, most)
    assert int(thinned.behind.sum()) == len(times)
    assert (thinned.behind > 0).all()
    assert (np.diff(thinned.rows) > 0).all()
    assert int(np.argmin(margin)) in thinned.rows  # the nearest to the dew point never goes


def test_typed_readings_and_the_worst_for_each_limit_are_printed() -> None:
    """In the middle of a piece, and not nearest the dew point: nothing else would choose them."""
    times = [START_S + 300 * n for n in range(600)]
    source = ["imported"] * 600
    source[205] = "typed"
    coat = coat_of(times, [3.0 - 1e-4 * (n % 12 == 11) for n in range(600)], source)
    humid = replace(coat.limits[3], worst=80.0, worst_at_s=float(times[307]))
    rows = table_rows(replace(coat, limits=(humid,))).rows
    assert {205, 307} <= set(rows)
    assert not {205, 307} & set(table_rows(replace(coat_of(times, [3.0] * 600), limits=())).rows)


def test_the_rows_of_a_piece_stand_for_the_readings_of_that_piece() -> None:
    """A log of one reading in 5 minutes over 50 hours, cut into pieces of 2 hours: 24 each."""
    times = [START_S + 300 * n for n in range(600)]
    coat = coat_of(times, [3.0 - 1e-3 * (n % 24) for n in range(600)])
    thinned = table_rows(replace(coat, limits=()))
    assert thinned.piece_min == 120
    behind: dict[int, int] = {}
    for row, many in zip(thinned.rows, thinned.behind, strict=True):
        piece = times[row] // 7200
        behind[piece] = behind.get(piece, 0) + int(many)
    assert list(behind.values()) == [24] * 25


def test_a_picture_of_many_readings_keeps_both_extremes() -> None:
    rng = np.random.default_rng(7)
    margin = rng.normal(3, 1, 200_000)
    margin[123_456], margin[77_777] = -8.0, 15.0
    coat = coat_of(list(range(START_S, START_S + 200_000)), list(margin))
    rows = picture_rows(coat.readings)
    assert len(rows) < 6000
    assert {123_456, 77_777} <= set(rows)


# --- lines -------------------------------------------------------------------------------


def test_no_line_crosses_a_gap_or_a_hole_of_over_three_hours() -> None:
    hours = [0, 1, 2, 6, 7, 8]
    coat = coat_of([START_S + h * HOUR for h in hours], [3.0] * 6)
    shown = pieces(coat, coat.readings.surface_temp_c)
    assert [len(piece.time_s) for piece in shown] == [3, 3]
    gap = TimeSpan(START_S + 0.5 * HOUR, START_S + 0.8 * HOUR)
    cut = replace(coat, gaps=(gap,))
    assert [len(p.time_s) for p in pieces(cut, coat.readings.surface_temp_c)] == [1, 2, 3]


def test_a_line_changes_its_form_where_the_source_changes() -> None:
    times = [START_S + 600 * n for n in range(5)]
    coat = coat_of(times, [3.0] * 5, ["typed", "typed", "imported", "imported", "measured"])
    shown = pieces(coat, coat.readings.surface_temp_c)
    assert [piece.source for piece in shown] == ["typed", "imported", "measured"]
    for before, after in itertools.pairwise(shown):
        assert before.time_s[-1] == after.time_s[0]  # no hole between them


def test_a_column_without_values_has_no_line() -> None:
    coat = coat_of([START_S, START_S + 60], [np.nan, np.nan])
    assert pieces(coat, coat.readings.surface_temp_c) == ()
    assert both(coat) == ()


def test_shading_meets_where_the_lines_cross() -> None:
    at_s, a, b = crossings(np.array([0.0, 10.0]), np.array([1.0, -1.0]), np.array([0.0, 0.0]))
    assert list(at_s) == [0.0, 5.0, 10.0]
    assert a[1] == b[1] == 0.0


def test_ticks_stand_at_local_midnight_through_a_clock_change() -> None:
    """Europe/London put its clocks back on 2026-10-25 at 02:00 (IANA tz database)."""
    begin = 1792839600  # 2026-10-24 12:00 in London
    ticks = time_ticks(begin, begin + 48 * HOUR, LONDON)
    clocks = [SAY.when(t)[11:16] for t in ticks]
    assert clocks.count("00:00") == 2
    assert len(ticks) <= 10


@given(st.floats(-50, 50), st.floats(0.1, 100))
def test_value_ticks_lie_inside_and_are_few(low: float, span: float) -> None:
    ticks = value_ticks(low, low + span)
    assert 2 <= len(ticks) <= 8
    assert all(low - 1e-6 * span <= t <= low + span * (1 + 1e-6) for t in ticks)
