"""The names of limits on the chart of a coat: they stand side by side, however close the limits."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from itertools import combinations
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.planning.words import Words
from advisor.record.report.blocks import Chart, Paper
from advisor.record.report.name_places import Box, NamePlaces
from advisor.record.report.pdf import pdf_bytes
from advisor.record.report.say import Say
from advisor.record.review_types import CoatReview, LimitInForce
from tests.helpers.record_job import MADE_S, job_review

SAY = Say(Words("metric", ZoneInfo("Europe/London")))
FRAME = Box(0, 0, 145, 48)
_WORD = re.compile(
    r'<word xMin="(.*?)" yMin="(.*?)" xMax="(.*?)" yMax="(.*?)">(.*?)</word>'
)  # fmt: skip


@given(st.lists(st.tuples(st.floats(0, 60), st.floats(5, 80), st.floats(0, 48)), max_size=6))
def test_names_never_stand_on_one_another(lines: list[tuple[float, float, float]]) -> None:
    places = NamePlaces(FRAME)
    for left, length, y in lines:
        places.place(((left, y), (left + length, y)), 30, 2)
    assert not [pair for pair in combinations(places.taken, 2) if pair[0].meets(pair[1])]
    assert all(box.within(FRAME) for box in places.taken)


def test_a_name_stands_above_its_line_where_nothing_is_in_the_way() -> None:
    box = NamePlaces(FRAME).place(((10, 20), (90, 20)), 30, 2)
    assert (box.left, box.right) == (10, 40)
    assert box.foot < 20


def test_a_name_goes_where_it_covers_no_curve() -> None:
    places = NamePlaces(FRAME)
    places.keep_off(((0, 18.5), (145, 18.5)))
    assert places.place(((10, 20), (90, 20)), 30, 2).top > 20


def test_a_name_stands_beside_its_own_line_not_another_limit() -> None:
    short = ((10.0, 20.0), (30.0, 20.0))
    box = NamePlaces(FRAME).place(((12, 22), (90, 22)), 30, 2, [short])
    near = Box(10, 20 - 1, 30, 20 + 1)  # a name within 1 mm would be read as the short line's
    assert not box.meets(near)


def close(coat: CoatReview) -> CoatReview:
    """A coat whose limits lie within half a kelvin of each other."""
    lows = (
        ("margin", "Above dew point", 3.0, "K"), ("margin", "Above dew point", 3.1, "K"),
        ("air_temp", "Air", 10.0, "°C"), ("surface_temp", "Surface", 10.1, "°C"),
        ("surface_temp", "Surface until tack-free", 10.4, "°C"),
    )  # fmt: skip
    first = coat.limits[0]
    limits = (
        LimitInForce(rule, label, low, None, unit, "data sheet") for rule, label, low, unit in lows
    )
    return replace(coat, limits=tuple(replace(first, limit=limit) for limit in limits))


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext (poppler) is not here")
def test_no_word_of_a_chart_is_printed_over_another(root: Path, tmp_path: Path) -> None:
    coat = close(job_review().coats[0])
    paper = Paper("t", "t", "0" * 64, MADE_S, (Chart(coat),))
    (tmp_path / "t.pdf").write_bytes(pdf_bytes(paper, SAY, root / "resources/fonts"))
    done = subprocess.run(
        ["pdftotext", "-bbox", tmp_path / "t.pdf", "-"], capture_output=True, check=True
    )
    words = [(_letters(*map(float, found[:4])), found[4])
             for found in _WORD.findall(done.stdout.decode())]  # fmt: skip
    assert {"10.0", "10.1", "10.4", "3.0", "3.1"} <= {text for _, text in words}
    assert not [(a[1], b[1]) for a, b in combinations(words, 2) if a[0].meets(b[0])]


def _letters(left: float, top: float, right: float, foot: float) -> Box:
    """Return where a word's letters are: the box of its type is a fifth more at head and foot."""
    spare = 0.2 * (foot - top)
    return Box(left, top + spare, right, foot - spare)
