"""Windows: runs, merging of the short ones, why one closes, the tightest limit."""

from __future__ import annotations

import itertools
from random import Random

import numpy as np
import pytest

from advisor.coatings.product import Limits
from advisor.planning.verdict import Verdict, judge
from advisor.planning.windows import Window, closes_because, merge_short, runs, tightest, windows
from tests.helpers.products import (
    HOUR_S,
    MONDAY_S,
    NAN,
    case,
    filler,
    gloss,
    product,
    series,
    steady,
)

LETTERS = {"g": Verdict.GO, "b": Verdict.BORDERLINE, "u": Verdict.UNKNOWN, "w": Verdict.WAIT}


def codes(text: str) -> np.ndarray:
    return np.array([LETTERS[letter] for letter in text], dtype=np.int8)


def merged(text: str) -> str:
    """Verdicts after merging, one letter per start."""
    names = {verdict: letter for letter, verdict in LETTERS.items()}
    out = merge_short(runs(codes(text)))
    assert [w.first for w in out[1:]] == [w.last + 1 for w in out[:-1]]  # no gap, no overlap
    assert all(a.verdict != b.verdict for a, b in itertools.pairwise(out))  # maximal
    return "".join(names[w.verdict] * (w.last - w.first + 1) for w in out)


def test_runs() -> None:
    assert runs(codes("")) == []
    assert runs(codes("g")) == [Window(0, 0, Verdict.GO)]
    assert runs(codes("ggwwu")) == [
        Window(0, 1, Verdict.GO),
        Window(2, 3, Verdict.WAIT),
        Window(4, 4, Verdict.UNKNOWN),
    ]


@pytest.mark.parametrize(
    ("found", "expected"),
    [
        ("wwggggww", "wwwwwwww"),  # four starts are 15 minutes
        ("wwgggggww", "wwgggggww"),  # five are 20: long enough
        ("g", "g"),  # nobody worse beside it
        ("gggg", "gggg"),
        ("ggggw", "wwwww"),  # one neighbour at an edge
        ("wgggg", "wwwww"),
        ("bbbbbggggbbbbb", "bbbbbbbbbbbbbb"),
        ("gggggbgggggg", "gggggbgggggg"),  # its neighbours are better: it stays
        ("gggggwggggg", "gggggwggggg"),  # a short wait is never merged
        ("ggggguggggg", "ggggguggggg"),
        ("wwgguu", "wwwwuu"),  # the worse of the two neighbours
        ("uugguu", "uuuuuu"),
        ("bbguu", "uuuuu"),  # go takes unknown, then close call is short beside it
        ("bbbbbguu", "bbbbbuuu"),
        ("wbbggw", "wwwwww"),
        # Shortest first: "g" (1) becomes wait before "bb" is looked at.
        ("gwbbbbbw", "wwbbbbbw"),
        # The shorter go takes the worse of its neighbours, not the nearer in kind.
        ("wwbbbggww", "wwwwwwwww"),
        ("gggbbgggggg", "bbbbbgggggg"),
    ],
)
def test_short_runs_take_the_worse_neighbour(found: str, expected: str) -> None:
    assert merged(found) == expected


def test_merging_never_improves_a_start() -> None:
    rng = Random(7)
    for _ in range(1500):
        text = "".join(rng.choice("gbuw") * rng.randint(1, 6) for _ in range(rng.randint(1, 10)))
        before, after = codes(text), codes(merged(text))
        assert (after >= before).all(), text


def test_merging_leaves_nothing_short_beside_something_worse() -> None:
    rng = Random(8)
    for _ in range(800):
        text = "".join(rng.choice("gbuw") * rng.randint(1, 6) for _ in range(rng.randint(1, 10)))
        out = merge_short(runs(codes(text)))
        for k, window in enumerate(out):
            beside = out[max(0, k - 1) : k] + out[k + 1 : k + 2]
            short = window.last - window.first < 4 and window.verdict <= Verdict.BORDERLINE
            assert not (short and any(b.verdict > window.verdict for b in beside)), text


def test_merging_is_the_same_run_twice() -> None:
    rng = Random(9)
    for _ in range(300):
        text = "".join(rng.choice("gbuw") * rng.randint(1, 6) for _ in range(8))
        assert merged(merged(text)) == merged(text)


def test_a_window_closes_by_the_rule_that_breaks_next() -> None:
    # A shed that cools from 20 °C at noon to 8 at midnight and is warm again by the morning.
    surface = np.concatenate(
        (np.full(144, 20.0), np.linspace(20, 8, 145), np.linspace(8, 20, 72), np.full(300, 20.0))
    )
    judged = judge(case(gloss(), 1.0), series(20.0, 5.0, surface))
    found = windows(judged)
    assert [w.verdict for w in found][:2] == [Verdict.GO, Verdict.WAIT]
    # The surface is under 10 °C from 22:00: the film would pause before it is tack-free.
    assert judged.broken(found[0].last + 1) == ["surface_temp"]
    assert closes_because(judged, found[0]) == "surface_temp"


def test_a_window_that_ends_with_the_data_says_data() -> None:
    judged = judge(case(filler(), 0.0), steady(24))
    found = windows(judged)
    assert [w.verdict for w in found] == [Verdict.GO, Verdict.UNKNOWN]
    # Sandable takes 6 h: the last start known is 18:00.
    assert judged.series.time_at(found[0].last) == MONDAY_S + 18 * HOUR_S
    assert closes_because(judged, found[0]) == "data"
    assert closes_because(judged, found[1]) == "data"


def test_a_go_that_becomes_a_close_call_names_the_care() -> None:
    surface = np.concatenate((np.full(200, 20.0), np.full(300, 13.1)))
    judged = judge(case(filler(), 0.0, certain=False), series(20.0, 10.0, surface))
    found = windows(judged)
    # 3.1 K over the dew point with ± 0.8 K is inside the limit, but under 0.99 is a close call
    # only under 2.3 standard errors; here it is over, so nothing closes before the end.
    assert found[0].verdict is Verdict.GO
    near = judge(
        case(filler(limits=Limits(margin_k=0.5)), 0.0, certain=False),
        series(20.0, 12.5, surface),
    )
    found = windows(near)
    assert [w.verdict for w in found][:2] == [Verdict.GO, Verdict.BORDERLINE]
    assert closes_because(near, found[0]) == "margin"


def test_a_wait_and_a_hole_after_the_window() -> None:
    surface = np.full(400, 20.0)
    surface[300] = NAN
    judged = judge(case(filler(), 0.0), series(20.0, 10.0, surface))
    found = windows(judged)
    assert [(w.first, w.last) for w in found if w.verdict is Verdict.GO] == [(0, 299 - 72)] + [
        (301, 399 - 72)
    ] * (399 - 72 >= 301)
    assert closes_because(judged, found[0]) == "data"


def test_tightest_is_the_least_room_in_its_own_scale() -> None:
    surface = np.full(600, 20.0)
    surface[50] = 14.2  # 4.2 K over the dew point: 1.2 K of room
    judged = judge(case(filler(), 1.0), series(20.0, 10.0, surface))
    found = tightest(judged, 0, 40)
    assert found is not None
    assert (found.rule, found.limit, found.unit) == ("margin", 3.0, "K")
    assert found.measured == pytest.approx(4.2, abs=1e-9)
    assert found.at_s == MONDAY_S + 50 * 300


def test_tightest_looks_no_further_than_the_window_needs() -> None:
    surface = np.full(600, 20.0)
    surface[400] = 14.2  # long after the last start is sandable
    judged = judge(case(filler(), 1.0), series(20.0, 10.0, surface))
    found = tightest(judged, 0, 40)
    assert found is not None
    assert found.at_s < MONDAY_S + 400 * 300


def test_tightest_of_a_wait_never_looks_before_its_first_start() -> None:
    # Tack-free of the first starts is not known (hole), so their hold has no points.
    surface = np.full(600, 20.0)
    surface[10] = 11.0
    surface[130] = NAN
    judged = judge(case(gloss(), 1.0), series(20.0, 10.0, surface))
    found = tightest(judged, 100, 160)
    assert found is not None
    assert found.at_s >= MONDAY_S + 100 * 300


def test_nothing_to_measure_has_no_tightest() -> None:
    judged = judge(case(product({"tack_free_h": (8.0, 4.0, 2.0)})), series([NAN] * 20, NAN, NAN))
    assert tightest(judged, 0, 5) is None


def test_windows_of_no_start() -> None:
    judged = judge(case(filler()), steady(10), np.empty(0, dtype=np.int64))
    assert windows(judged) == []
