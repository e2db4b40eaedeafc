"""What must never happen, whatever the weather: go with something missing, or go by worsening.

Trend and the overcoating maximum are left out where the design leaves them out.
"""

from __future__ import annotations

import itertools
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from advisor.climate.series import Series
from advisor.coatings.clocks import Clock, maximum_clock, minimum_clock
from advisor.coatings.product import Limits, NextCoat, Product, Times
from advisor.coatings.tables import TimeTable
from advisor.physics.uncertainty import SensorSpread
from advisor.planning.case import Case, Previous, Site
from advisor.planning.hours import parse_hours
from advisor.planning.timeline import Phase
from advisor.planning.verdict import Verdict, judge
from advisor.planning.windows import windows
from tests.helpers.products import (
    HOUR_S,
    MONDAY_S,
    NAN,
    ROWS,
    barrier,
    case,
    filler,
    gloss,
    one_row,
    product,
    series,
    steady,
)

N = 36 * 12
STARTS = np.arange(0, N, 7)
WATER = product(
    {"pot_life_h": (6.0, 3.0, 1.5), "tack_free_h": (4.0, 2.0, 1.0), "tape_dry_h": (8.0, 4.0, 2.0)},
    product_class="waterborne-two-part",
    limits=Limits(surface_temp_c=(10.0, 32.0), rh_pct=(0.0, 80.0)),
)
ENAMEL = product(
    {"tack_free_h": (6.0, 3.0, 1.5)},
    product_class="alkyd",
    limits=Limits(air_temp_c=(7.0, 30.0), rh_pct=(0.0, 85.0)),
)
PRODUCTS = (gloss(), barrier(), filler(), one_row(), WATER, ENAMEL)


@st.composite
def climates(draw: st.DrawFn, hole: bool = False) -> Series:
    """Thirty-six hours that swing about something paintable."""
    k = np.arange(N)
    rng = np.random.default_rng(draw(st.integers(0, 2**16)))
    base, swing = draw(st.sampled_from([14.0, 18.0, 22.0])), draw(st.sampled_from([0.0, 2.0, 6.0]))
    phase = draw(st.integers(0, N))
    air = base + swing * np.sin((k + phase) * 2 * np.pi / 288) + rng.normal(0, 0.1, N)
    spread = draw(st.sampled_from([3.5, 5.0, 9.0]))
    dew = np.minimum(base - spread + rng.normal(0, 0.3, N), air)
    surface = air + draw(st.sampled_from([-1.0, 0.0, 1.0])) + rng.normal(0, 0.2, N)
    if hole and draw(st.booleans()):
        surface[draw(st.integers(0, N - 1))] = NAN
    return series(air, dew, surface, hot=surface + 1.0, wind=3.0, rain=0.0)


@st.composite
def coats(draw: st.DrawFn) -> Case:
    """One coat, sometimes over another that has no maximum to miss."""
    of = draw(st.sampled_from(PRODUCTS))
    previous = None
    if draw(st.booleans()):
        under = replace(barrier(), next_coats=(NextCoat(of.product_class, (8.0, 4.0, 2.0)),))
        when = MONDAY_S + draw(st.integers(0, 6)) * HOUR_S
        previous = Previous(under, when, when + HOUR_S, draw(st.booleans()))
    site = draw(st.sampled_from([Site(), Site(outdoors=True, wind_limit_m_s=8.0)]))
    return Case(of, draw(st.sampled_from([0.0, 0.5, 2.0])), previous, site,
                certain=draw(st.booleans()))  # fmt: skip


def verdicts(over: Case, on: Series) -> np.ndarray:
    return judge(over, on, STARTS).verdicts


#: A share of whatever there turns out to be to choose from, drawn before anything is judged.
shares = st.floats(0, 1, exclude_max=True)
two_shares = st.tuples(shares, shares)


def at_share(low: int, high: int, share: float) -> int:
    """A whole number from low to high, both included."""
    return low + int(share * (high - low + 1))


def one_of(found: np.ndarray | list[int], share: float) -> int:
    """One of what was found; no example where nothing was."""
    assume(len(found) > 0)
    return int(found[at_share(0, len(found) - 1, share)])


def never_better(before: np.ndarray, after: np.ndarray) -> None:
    worse = after < before
    assert not worse.any(), [
        (int(STARTS[j]), Verdict(int(before[j])).name, Verdict(int(after[j])).name)
        for j in np.flatnonzero(worse)
    ]


def replaced(on: Series, **columns: np.ndarray) -> Series:
    """A series with other columns; nothing derived is carried over."""
    return replace(on, **columns)  # type: ignore[arg-type]


# --- never go with anything missing ----------------------------------------------------------


def test_the_made_up_weather_has_something_to_lose() -> None:
    """Without goes the properties below would prove nothing."""
    on = steady(36, wind=3.0, rain=0.0)
    for of in PRODUCTS:
        assert judge(case(of), on, np.array([0])).verdict(0) is Verdict.GO


NEEDED = {
    "air_temp_c": Phase.APPLICATION,
    "dew_point_c": Phase.TO_TACK_FREE,
    "surface_temp_c": Phase.TO_DEW_SAFE,
    "wind_m_s": Phase.TO_TACK_FREE,
    "rain_mm": Phase.TO_DEW_SAFE,
}


@given(
    on=climates(), over=coats(), column=st.sampled_from(sorted(NEEDED)), which=shares, where=shares
)
def test_a_hole_inside_the_needed_span_is_never_go(
    on: Series, over: Case, column: str, which: float, where: float
) -> None:
    over = replace(over, site=Site(outdoors=True, wind_limit_m_s=8.0))
    before = judge(over, on, STARTS)
    j = one_of(np.flatnonzero(before.verdicts <= Verdict.BORDERLINE), which)
    span = before.timeline.spans[NEEDED[column]]
    at = at_share(int(span.low[j]), int(span.high[j]), where)
    values = getattr(on, column).copy()
    values[at] = NAN
    after = judge(over, replaced(on, **{column: values}), STARTS[j : j + 1])
    # Can't tell, or wait where the end is not known and a limit is broken later on.
    assert after.verdict(0) > Verdict.BORDERLINE
    assert after.unknowns(0)


@given(on=climates(), over=coats(), which=shares)
def test_a_hole_after_all_that_is_needed_changes_nothing(
    on: Series, over: Case, which: float
) -> None:
    """The other side of the property above: what is not needed may be missing."""
    before = judge(over, on, STARTS)
    end = before.timeline.dew_safe
    with np.errstate(invalid="ignore"):
        j = one_of(np.flatnonzero((before.verdicts <= 1) & (end + 1 < N - 1)), which)
    at = int(np.ceil(end[j])) + 1
    holed = {}
    for column in NEEDED:
        holed[column] = getattr(on, column).copy()
        holed[column][at:] = NAN
    after = judge(over, replaced(on, **holed), STARTS[j : j + 1])
    assert after.verdict(0) == before.verdict(j)


@given(on=climates(), over=coats(), which=shares, where=shares)
def test_a_hole_before_the_start_back_to_the_coat_below_is_never_go(
    on: Series, over: Case, which: float, where: float
) -> None:
    assume(over.previous is not None)
    assert over.previous is not None
    low = int(on.index_of(over.previous.start_s))
    before = judge(over, on, STARTS)
    fine = [j for j in np.flatnonzero(before.verdicts <= Verdict.BORDERLINE) if STARTS[j] > low]
    j = one_of(fine, which)
    surface = on.surface_temp_c.copy()
    surface[at_share(low, int(STARTS[j]), where)] = NAN
    after = judge(over, replaced(on, surface_temp_c=surface), STARTS[j : j + 1])
    assert after.verdict(0) > Verdict.BORDERLINE


@given(of=st.sampled_from(PRODUCTS), over=coats(), on=climates(), which=shares)
def test_a_blank_cell_that_is_used_is_never_go(
    of: Product, over: Case, on: Series, which: float
) -> None:
    over = replace(over, product=of, previous=None)
    before = judge(over, on, STARTS)
    fine = np.flatnonzero(before.verdicts <= Verdict.BORDERLINE)
    assume(len(fine) > 0)
    used = [over.dry_column, *(c for c in ("induction_h", "pot_life_h") if of.has(c))]
    if over.has_hold and of.product_class in ("two-part-gloss", "waterborne-two-part"):
        used.append("tape_dry_h")
    column = used[at_share(0, len(used) - 1, which)]
    blank = {**of.times.columns, column: (NAN,) * len(of.times.temp_c)}
    blanked = replace(of, times=Times(of.times.temp_c, blank))
    after = judge(replace(over, product=blanked), on, STARTS[fine])
    assert (after.verdicts > Verdict.BORDERLINE).all()


@given(on=climates(), of=st.sampled_from([gloss(), barrier(), WATER]), row=st.integers(0, 2))
def test_one_blank_row_refuses_wherever_it_is_met(on: Series, of: Product, row: int) -> None:
    cells = list(of.times.columns["tack_free_h"])
    cells[row] = NAN
    columns = {**of.times.columns, "tack_free_h": tuple(cells)}
    blanked = replace(of, times=Times(of.times.temp_c, columns))
    judged = judge(case(blanked, 0.5), on, STARTS)
    met = np.isnan(TimeTable.of(ROWS, cells).at(on.surface_temp_c))
    for j, start in enumerate(STARTS):
        if met[start : start + 7].any():
            assert judged.verdict(j) > Verdict.BORDERLINE


# --- worsening never turns a wait into a go --------------------------------------------------


@given(on=climates(hole=True), over=coats(), by=st.sampled_from([0.3, 1.0, 3.0]), ends=two_shares)
def test_a_higher_dew_point_betters_nothing(
    on: Series, over: Case, by: float, ends: tuple[float, float]
) -> None:
    low, high = (at_share(0, N, share) for share in sorted(ends))
    dew = on.dew_point_c.copy()
    dew[low:high] = np.minimum(dew[low:high] + by, on.air_temp_c[low:high])
    never_better(verdicts(over, on), verdicts(over, replaced(on, dew_point_c=dew)))


@given(on=climates(hole=True), over=coats(), by=st.sampled_from([0.3, 1.0, 4.0]), ends=two_shares)
def test_a_colder_surface_betters_nothing(
    on: Series, over: Case, by: float, ends: tuple[float, float]
) -> None:
    """The hottest spot stays: only a surface that is not over a ceiling is lowered."""
    top = over.product.limits.surface_temp_c
    ceiling = max(over.product.times.temp_c[-1], top[1]) if top else np.inf
    low, high = (at_share(0, N, share) for share in sorted(ends))
    colder = on.surface_temp_c.copy()
    part = colder[low:high]
    colder[low:high] = np.where(part <= ceiling, part - by, part)
    never_better(verdicts(over, on), verdicts(over, replaced(on, surface_temp_c=colder)))


@given(on=climates(hole=True), over=coats(), more=st.tuples(*[st.floats(0, 3)] * 3))
def test_wider_sensors_better_nothing(
    on: Series, over: Case, more: tuple[float, float, float]
) -> None:
    narrow = SensorSpread()
    wide = SensorSpread(narrow.air_k + more[0], narrow.rh_pct + more[1], narrow.surface_k + more[2])
    over = replace(over, certain=False)
    before = verdicts(over, on)
    never_better(before, verdicts(replace(over, spread=wide), on))
    # And spread alone never makes more of a go than a close call.
    assert (verdicts(replace(over, certain=True), on)[before > 1] > 1).all()


@given(on=climates(hole=True), over=coats(), longer=st.sampled_from([0.25, 1.0, 5.0]))
def test_more_work_betters_nothing(on: Series, over: Case, longer: float) -> None:
    """A longer application, the coat below left out: its minimum is reached by working slower."""
    over = replace(over, previous=None)
    slow = replace(over, apply_h=over.apply_h + longer)
    now, later = verdicts(over, on), verdicts(slow, on)
    assert (later[now == Verdict.WAIT] >= Verdict.UNKNOWN).all()


@pytest.mark.parametrize("of", PRODUCTS, ids=lambda p: p.product_class)
def test_all_missing_is_never_go(of: Product) -> None:
    on = series([NAN] * 60, NAN, NAN)
    for certain in (True, False):
        judged = judge(case(of, certain=certain), on)
        assert (judged.verdicts > Verdict.BORDERLINE).all()


# --- clocks ----------------------------------------------------------------------------------

temps = st.lists(st.floats(-10, 45), min_size=3, max_size=80).map(np.array)
tables = st.lists(st.floats(0.2, 40), min_size=3, max_size=3).map(
    lambda cells: TimeTable.of(ROWS, sorted(cells, reverse=True))
)


def clock_of(table: TimeTable, along: np.ndarray, kind: str) -> Clock:
    if kind == "minimum":
        return minimum_clock(table, along, 12.0)
    return maximum_clock(replace(table, runs_out=True), along)


kinds = st.sampled_from(["minimum", "maximum"])


@given(along=temps, table=tables, kind=kinds)
def test_progress_never_falls(along: np.ndarray, table: TimeTable, kind: str) -> None:
    clock = clock_of(table, along, kind)
    fine = np.linspace(0, len(along) - 1, 97)
    assert (np.diff(clock.progress(fine)) >= -1e-12).all()  # rounding of the sums


@given(along=temps, table=tables, kind=kinds, where=shares)
def test_histories_add_up(along: np.ndarray, table: TimeTable, kind: str, where: float) -> None:
    """Split at any grid point, the two parts together are the whole."""
    cut = at_share(1, len(along) - 2, where)
    whole = clock_of(table, along, kind).total[-1]
    parts = [clock_of(table, part, kind).total[-1] for part in (along[: cut + 1], along[cut:])]
    assert sum(parts) == pytest.approx(whole, rel=1e-9, abs=1e-12)  # order of summing


@given(along=temps, table=tables, kind=kinds, where=shares)
def test_an_event_comes_after_one_whole_time(
    along: np.ndarray, table: TimeTable, kind: str, where: float
) -> None:
    table = replace(table, hours=table.hours / 20)  # short enough to happen
    clock = clock_of(table, along, kind)
    start = np.array([where * (len(along) - 1)])
    event = clock.when(start)
    gone = clock.total[-1] - clock.progress(start)
    if np.isnan(event[0]):
        assert gone[0] < 1.0
        return
    assert event[0] >= start[0] - 1e-6
    # Snapping moves an event by up to 1e-6 step at the fastest rate here, 100 per hour.
    assert clock.progress(event)[0] - clock.progress(start)[0] == pytest.approx(1.0, abs=1e-4)


@given(along=temps, table=tables, kind=kinds)
def test_a_later_start_is_never_done_earlier(
    along: np.ndarray, table: TimeTable, kind: str
) -> None:
    clock = clock_of(replace(table, hours=table.hours / 20), along, kind)
    events = clock.when(np.linspace(0, len(along) - 1, 60))
    known = ~np.isnan(events)
    assert (np.diff(events[known]) >= -2e-6).all()  # snapping
    assert not known[np.argmin(known) :].any() or known.all()


@given(along=temps, table=tables, by=st.floats(0.0, 10.0))
def test_warmer_is_never_slower(along: np.ndarray, table: TimeTable, by: float) -> None:
    for kind in ("minimum", "maximum"):
        cold, warm = (clock_of(table, t, kind).total for t in (along, along + by))
        assert (warm >= cold - 1e-9).all()


# --- clock changes ---------------------------------------------------------------------------

LONDON = ZoneInfo("Europe/London")
CHANGES = ("2026-03-29", "2026-10-25")
PLAIN_DAY = "2026-06-07"


def midnight_utc(day: str) -> int:
    return int(datetime.fromisoformat(f"{day}T00:00+00:00").timestamp())


@pytest.mark.parametrize("day", CHANGES)
@given(on=climates(hole=True), of=st.sampled_from([gloss(), filler()]))
@settings(max_examples=20)
def test_a_day_of_23_or_25_hours_changes_no_window_in_utc(
    day: str, on: Series, of: Product
) -> None:
    found = []
    for start in (midnight_utc(PLAIN_DAY), midnight_utc(day)):
        judged = judge(case(of), replace(on, start_s=start))
        found.append([(w.first, w.last, w.verdict) for w in windows(judged)])
        ends = [judged.series.time_at(w.last) - start for w in windows(judged)]
        assert ends == [300 * last for _, last, _ in found[-1]]
    assert found[0] == found[1]


@pytest.mark.parametrize("day", [*CHANGES, PLAIN_DAY])
def test_working_hours_follow_the_local_clock_alone(day: str) -> None:
    start = midnight_utc(day) - 24 * HOUR_S
    on = steady(72, start_s=start)
    mask = parse_hours("08:00-18:00").mask(on, LONDON)
    for k, at in enumerate(on.time_s):
        local = datetime.fromtimestamp(int(at), LONDON)
        minute = local.hour * 60 + local.minute
        assert mask[k] == (8 * 60 <= minute <= 18 * 60), local


@pytest.mark.parametrize("day", CHANGES)
def test_windows_with_working_hours_move_by_the_clock_change(day: str) -> None:
    change = midnight_utc(day)
    on = steady(120, start_s=change - 48 * HOUR_S)
    over = case(filler(), 1.0, hours_mask=parse_hours("08:00-18:00").mask(on, LONDON))
    judged = judge(over, on)
    goes = [w for w in windows(judged) if w.verdict is Verdict.GO]
    local = [
        tuple(
            datetime.fromtimestamp(judged.series.time_at(x), LONDON).strftime("%H:%M")
            for x in (w.first, w.last)
        )
        for w in goes
    ]
    assert local == [("08:00", "17:00")] * len(goes)  # an hour of work fits before 18:00
    opens = [judged.series.time_at(w.first) for w in goes]
    days = [timedelta(seconds=b - a) for a, b in itertools.pairwise(opens)]
    shorter = timedelta(hours=23 if day == CHANGES[0] else 25)
    assert sorted({*days}) == sorted({timedelta(hours=24), shorter})
