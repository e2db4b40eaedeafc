"""The rule engine against a plain-loop twin that shares no code with it.

Twenty thousand invented starts must get the same verdict and the same broken rules; then every
rule is made wrong in the twin, and the difference must show: a twin that cannot tell a wrong
rule from a right one proves nothing.
"""

import ast
import math
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from random import Random

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.oracle import (
    adapter,
    cases,
    course_mutants,
    plain_course,
    plain_rules,
    plain_types,
    plain_windows,
    rule_mutants,
    weather,
)
from tests.oracle.mutant import put_in_place

SEED = 1
CASES = 250
STARTS = 80
MUTANTS = [*rule_mutants.mutants(), *course_mutants.course_mutants()]
CALM = settings(
    max_examples=50,
    deadline=None,
    derandomize=True,
    database=None,
    suppress_health_check=list(HealthCheck),
)


@cache
def questions():
    """Cases with their starts."""
    rng = Random(SEED + 1)
    found = [adapter.with_spread(case) for case in cases.case_list(SEED, CASES)]
    return [(c, cases.some_starts(c, rng, STARTS, adapter.changes(c))) for c in found]


@cache
def program_says():
    """The program's answers, case by case."""
    return [adapter.answers(case, starts) for case, starts in questions()]


@cache
def courses():
    """The course of each coat by the plain rules, case by case."""
    return [[plain_course.course(case, i) for i in starts] for case, starts in questions()]


@cache
def plain_says():
    """The plain rules' answers, case by case."""
    return [
        [plain_rules.judge(case, i, times) for i, times in zip(starts, of_case, strict=True)]
        for (case, starts), of_case in zip(questions(), courses(), strict=True)
    ]


def differences(case, starts, answers, plain=None):
    """Starts on which the two disagree, with what each of them says."""
    for k, (start, answer) in enumerate(zip(starts, answers, strict=True)):
        verdict, broken, *_ = plain[k] if plain else plain_rules.judge(case, start)
        if (verdict, broken) != (answer.verdict, answer.broken):
            yield start, (verdict, sorted(broken)), (answer.verdict, sorted(answer.broken))


def test_twenty_thousand_starts_get_the_same_verdict_and_broken_rules():
    found, asked = [], 0
    for place, (case, starts) in enumerate(questions()):
        asked += len(starts)
        answers, plain = program_says()[place], plain_says()[place]
        found += [(place, *d) for d in differences(case, starts, answers, plain)]
    assert asked == CASES * STARTS == 20_000
    assert found == []


def test_the_starts_ask_about_every_verdict_and_every_rule_alone():
    answers = [answer for of_case in plain_says() for answer in of_case]
    verdicts = Counter(answer[0] for answer in answers)
    alone = Counter(next(iter(answer[1])) for answer in answers if len(answer[1]) == 1)
    assert {name: verdicts[name] for name in plain_windows.ORDER if verdicts[name] < 2000} == {}
    hard = set(plain_rules.RULES) - {"chance", "template"}
    assert {name: alone[name] for name in hard if alone[name] < 200} == {}


@CALM
@given(case=cases.cases(), chosen=st.randoms(use_true_random=False))
def test_any_invented_week_gets_the_same_answers(case, chosen):
    case = adapter.with_spread(case)
    starts = cases.some_starts(case, Random(chosen.randrange(1000)), 30)
    assert list(differences(case, starts, adapter.answers(case, starts))) == []


@settings(CALM, max_examples=300)
@given(case=cases.small_cases())
def test_values_on_and_beside_every_limit_get_the_same_answers(case):
    case = adapter.with_spread(case)
    starts = list(range(len(case.series.air)))
    assert list(differences(case, starts, adapter.answers(case, starts))) == []


def test_windows_of_real_verdicts_are_the_same():
    for case, _ in questions()[::8]:
        starts = list(range(0, len(case.series.air)))
        verdicts = [answer.verdict for answer in adapter.answers(case, starts)]
        assert adapter.windows(verdicts) == plain_windows.windows(verdicts)


@settings(CALM, max_examples=1000)
@given(
    runs=st.lists(
        st.tuples(st.sampled_from(plain_windows.ORDER), st.sampled_from([1, 2, 3, 4, 5, 6, 9])),
        max_size=14,
    )
)
def test_windows_of_any_verdicts_are_the_same(runs):
    verdicts = [verdict for verdict, length in runs for _ in range(length)]
    assert adapter.windows(verdicts) == plain_windows.windows(verdicts)


@pytest.mark.parametrize("minutes", [15, 25])
def test_windows_notice_another_shortest_run(monkeypatch, minutes):
    monkeypatch.setattr(plain_windows, "SHORT_MIN", minutes)
    rng = Random(SEED)
    lists = [[rng.choice(plain_windows.ORDER)] * rng.randrange(1, 7) for _ in range(400)]
    verdicts = [verdict for run in lists for verdict in run]
    assert adapter.windows(verdicts) != plain_windows.windows(verdicts)


@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda mutant: mutant.name)
def test_a_wrong_rule_is_noticed(mutant, monkeypatch):
    put_in_place(mutant, monkeypatch)
    seek = seek_in_rules if mutant.rules else seek_in_cases
    assert seek(mutant), f"nobody would notice: {mutant.name}"


def seek_in_cases(mutant):
    """Whether some start of the twenty thousand tells the mutant from the program."""
    return any(
        any(differences(mutant.change(cases.fresh(case)), starts, answers))
        for (case, starts), answers in zip(questions(), program_says(), strict=True)
    )


def seek_in_rules(mutant):
    """The same where only single rules changed: the course of each coat is known."""
    for place, (question, starts) in enumerate(questions()):
        case = cases.fresh(question)
        for start, times, answer in zip(
            starts, courses()[place], program_says()[place], strict=True
        ):
            verdict, broken, *_ = plain_rules.judge(case, start, times)
            if (verdict, broken) != (answer.verdict, answer.broken):
                return True
    return False


def test_the_twin_shares_nothing_with_the_program():
    """Only plain parts of Python and its own files: no arrays, nothing from the program."""
    folder = Path(plain_rules.__file__).parent
    own = {f"tests.oracle.{file.stem}" for file in folder.glob("plain_*.py")}
    allowed = {"math", "dataclasses", "itertools", *own}
    for file in folder.glob("plain_*.py"):
        names = set()
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Import):
                names |= {alias.name for alias in node.names}
            elif isinstance(node, ast.ImportFrom):
                names.add(node.module)
        assert names <= allowed, file.name


def steady_case(count=60, **changes):
    """Twenty degrees, dry, one row: nothing in the way but what is changed."""
    same = [20.0] * count
    product = plain_types.PlainProduct("epoxy-barrier", [20.0], {"tack_free_h": [0.5]})
    series = weather.with_derived(same, [5.0] * count, same, 0.0)
    case = plain_types.PlainCase(product, series, apply_h=0.5, certain=True)
    return cases.fresh(case, **changes)


def coat_below(first, last, **hours):
    """An epoxy barrier with rows at 20 and 30 °C, going on again over itself."""
    below = plain_types.PlainProduct("epoxy-barrier", [20.0, 30.0], {"tack_free_h": [0.5, 0.5]})
    return plain_types.PlainPrevious(below, first, last, over=plain_types.PlainNext(**hours))


def hole_in_the_hottest_spot():
    """Nobody knows how hot the coat below got, so nobody knows whether the bond is open."""
    case = steady_case(previous=coat_below(0.0, 0.0, min_h=[0.5, 0.5], max_h=[3.0, 3.0]))
    hot = [math.nan if 10 <= k < 15 else t for k, t in enumerate(case.series.surface_hot)]
    return cases.fresh(case, series=replace(case.series, surface_hot=hot)), 27


def painted_after_the_series():
    """A coat below that is not painted before the series ends cannot carry another."""
    return steady_case(previous=coat_below(70.0, 72.0, min_h=[1.0, 1.0])), 10


def blank_at_the_painting():
    """The maximum is blank at the point before the first patch, whose rate is used."""
    case = steady_case(previous=coat_below(5.5, 6.0, min_h=[0.5, 0.5], max_h=[9.0, math.nan]))
    hot = [25.0 if k == 5 else t for k, t in enumerate(case.series.surface_hot)]
    return cases.fresh(case, series=replace(case.series, surface_hot=hot)), 24


def sandable_but_no_filler():
    """Only fillers have no hold: other paint is held even where sandable ends the open phase."""
    columns = {"sandable_h": [0.5], "dew_safe_h": [2.0]}
    case = steady_case()
    margin = [1.0 if k > 20 else 15.0 for k in range(60)]
    product = replace(case.product, columns=columns)
    return cases.fresh(case, product=product, series=replace(case.series, margin=margin)), 0


def nothing_ends_the_open_phase():
    """Under the lowest row the surface is too cold, whatever milestones the sheet leaves out."""
    case = steady_case()
    surface = [4.0 if k > 20 else 20.0 for k in range(60)]
    product = replace(case.product, rows=[5.0, 20.0], columns={"pot_life_h": [9.0, 4.0]})
    return cases.fresh(case, product=product, series=replace(case.series, surface=surface)), 0


def events_after_no_time_at_all():
    """Hot hours at which the sheet says 0 h must not blur the clock of later coats."""
    count = 900
    case = steady_case(count)
    columns = {"tack_free_h": [1.75, 0.0], "dew_safe_h": [7.0, 7.0]}
    surface = [30.0 if k < 600 else 20.0 for k in range(count)]
    margin = [1.0 if k == 737 else 15.0 for k in range(count)]
    product = replace(case.product, rows=[20.0, 30.0], columns=columns, hold_margin_k=2.0)
    product.margin_k = 0.5
    series = replace(case.series, surface=surface, surface_hot=surface, margin=margin)
    return cases.fresh(case, product=product, series=series), 710


CORNERS = (
    hole_in_the_hottest_spot,
    painted_after_the_series,
    blank_at_the_painting,
    sandable_but_no_filler,
    nothing_ends_the_open_phase,
    events_after_no_time_at_all,
)


@pytest.mark.parametrize("make", CORNERS)
def test_corners_where_the_rules_on_paper_decide(make):
    case, start = make()
    case = adapter.with_spread(case)
    assert list(differences(case, [start], adapter.answers(case, [start]))) == []
