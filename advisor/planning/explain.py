"""Reasons in sentences, for the window, the command line and the record alike."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from advisor.coatings.product import NextCoat
from advisor.planning.limits import ON_THE_LIMIT, Along, AtStart, Outcome, Share, Test
from advisor.planning.timeline import Phase, Span
from advisor.planning.verdict import Judged, Verdict
from advisor.planning.words import Words, duration


@dataclass(frozen=True)
class Reason:
    """One rule at one start: what was measured, which limit, whose, when.

    `holds` is None where it could not be tested. `text` is the sentence for the reader.
    """

    rule: str
    phase: str
    holds: bool | None
    measured: float | None
    limit: float | None
    unit: str
    at_s: float | None
    whose: str
    text: str
    title: str = ""


TITLES = MappingProxyType(
    {
        ("margin", Phase.TO_TACK_FREE): "Clear of dew until tack-free",
        ("hold_margin", Phase.HOLD): "Stays clear until it can take dew",
        ("margin", Phase.TO_DEW_SAFE): "Clear even if the instruments err",
        ("air_temp", Phase.APPLICATION): "Air inside limits",
        ("surface_temp", Phase.APPLICATION): "Surface inside limits",
        ("surface_temp", Phase.TO_TACK_FREE): "Warm enough to dry",
        ("surface_temp", Phase.TO_DEW_SAFE): "Warm enough to dry",
        ("humidity", Phase.TO_TACK_FREE): "Humidity",
        ("humidity", Phase.APPLICATION): "Humidity",
        ("table", Phase.APPLICATION): "Inside the data sheet's table",
        ("table", Phase.START): "Inside the data sheet's table",
        ("pot_life", Phase.APPLICATION): "Batch outlives its induction",
        ("trend", Phase.APPLICATION): "Surface trend",
        ("hours", Phase.APPLICATION): "Working hours",
        ("wind", Phase.TO_TACK_FREE): "Wind",
        ("rain", Phase.TO_DEW_SAFE): "Rain",
        ("sun", Phase.APPLICATION): "Out of the sun",
    }
)

#: Rules that speak of room above the dew point.
MARGINS = ("margin", "hold_margin")

#: What must be measured for a quantity to be known.
MISSING = MappingProxyType(
    {
        "film": "the surface temperature is",
        "coldest spot": "the surface temperature is",
        "hottest spot": "the surface temperature is",
        "above dew point": "the surface or the dew point is",
        "change over the hour": "the surface temperature is",
        "humidity": "the humidity is",
        "air": "the air temperature is",
        "mix": "the air temperature is",
        "pot life used up by induction": "the mix temperature is",
        "wind": "the wind is",
        "rain": "the rain is",
        "sun on the patch": "whether the sun is on the patch is",
    }
)

PHASE_WORDS = MappingProxyType(
    {
        Phase.START: "at the start",
        Phase.APPLICATION: "until the last patch",
        Phase.TO_TACK_FREE: "until tack-free",
        Phase.TO_DEW_SAFE: "until it can take dew",
        Phase.HOLD: "from tack-free until it can take dew",
    }
)


#: What a rule watches, to end a sentence with.
RULE_WORDS = MappingProxyType(
    {
        "air_temp": "the air temperature",
        "surface_temp": "the surface temperature",
        "table": "the data sheet's table",
        "pot_life": "the pot life",
        "humidity": "the humidity",
        "margin": "the dew point before it is tack-free",
        "hold_margin": "the dew point before it can take dew",
        "trend": "the surface trend",
        "previous_coat": "the coat below",
        "hours": "your hours",
        "wind": "the wind",
        "rain": "rain",
        "sun": "sun on the patch",
    }
)

TOO_EARLY = "the coat below has not reached its minimum yet"


def reasons(judged: Judged, j: int, words: Words) -> tuple[Reason, ...]:
    """Every test at the j-th start: the broken first, then the unknown, then the holding."""
    told = [k for k, test in enumerate(judged.tests) if _is_told(judged, test, j)]
    found = [_reason(judged, k, j, words) for k in told]
    order = {False: 0, None: 1, True: 2}
    return tuple(sorted(found, key=lambda r: order[r.holds]))


def _is_told(judged: Judged, test: Test, j: int) -> bool:
    """Where the outlook's courses tell the chance, the central margin's own is left aside."""
    if isinstance(test, Share):
        # Past the end of the outlook nothing holds, and that is no sign of dew.
        return not np.isnan(test.shares[j]) and judged.verdict(j) is not Verdict.UNKNOWN
    chances = judged.chances
    return not (isinstance(test, Along) and test.soft and chances and ~np.isnan(chances.dry[j]))


def one_per_title(told: tuple[Reason, ...]) -> tuple[Reason, ...]:
    """Keep the tightest reason of each title, so that a list stays short; order is kept."""
    kept: dict[str, Reason] = {}
    for reason in told:
        other = kept.setdefault(reason.title, reason)
        if other.holds is True and _room(reason) < _room(other):
            kept[reason.title] = reason
    return tuple(kept.values())


def _room(reason: Reason) -> float:
    if reason.measured is None or reason.limit is None:
        return float("inf")
    return abs(reason.measured - reason.limit)


def _reason(judged: Judged, k: int, j: int, words: Words) -> Reason:
    test = judged.tests[k]
    if isinstance(test, AtStart):
        return _at_start(judged, test, j, _holds(test.outcome(), j), words)
    if isinstance(test, Share):
        return _by_chance(judged, test, j)
    span = judged.timeline.spans[test.phase]
    one = Span(span.low[j : j + 1], span.high[j : j + 1], span.complete[j : j + 1])
    return _along(judged, test, j, _holds(test.outcome(one), 0), words)


def _holds(outcome: Outcome, j: int) -> bool | None:
    """Whether a test holds at the j-th start; None where it cannot be told."""
    if outcome.broken[j]:
        return False
    if outcome.unknown[j]:
        return None
    return not (outcome.caution is not None and outcome.caution[j])


def _along(judged: Judged, test: Along, j: int, holds: bool | None, words: Words) -> Reason:
    span = judged.timeline.spans[test.phase]
    low, high = int(span.low[j]), int(span.high[j])
    part = test.values[low : high + 1]
    title = TITLES.get((test.rule, test.phase), test.quantity)
    if len(part) == 0 or np.isnan(part).all():
        text = f"{MISSING.get(test.quantity, test.quantity)} not known {PHASE_WORDS[test.phase]}"
        return Reason(test.rule, test.phase, holds, None, test.limit, test.unit, None,
                      test.whose, text, title)  # fmt: skip
    at = low + int(np.nanargmin(test.slack(part)))
    measured = float(test.values[at])
    at_s = judged.series.time_at(at)
    text = _sentence(test, measured, words.moment(at_s), holds, words)
    return Reason(test.rule, test.phase, holds, measured, test.limit, test.unit, at_s,
                  test.whose, text, title)  # fmt: skip


def _sentence(test: Along, measured: float, moment: str, holds: bool | None, words: Words) -> str:
    inside = test.slack(np.array(measured)) >= -ON_THE_LIMIT
    if test.rule == "hours":
        return "inside your hours" if inside else f"outside your hours at {moment}"
    if test.rule == "sun":
        return "patch in the shade" if inside else f"sun on the patch at {moment} ({test.whose})"
    if test.soft:
        return f"{measured:.1f} standard errors above dew point at {moment}, needs {test.limit:.1f}"
    if test.rule == "table" and not test.unit:
        return (
            f"{test.quantity} in the data sheet"
            if inside
            else (
                f"{test.quantity.removesuffix(' given')} is blank in the data sheet for the "
                f"temperature at {moment}"
            )
        )
    if test.rule == "pot_life":
        return f"induction uses {measured:.0%} of the pot life at {moment}"
    side = "needs" if test.at_least else "limit"
    tail = "" if holds is not None else f"; not known all the way {PHASE_WORDS[test.phase]}"
    shown, limit = words.value(measured, test.unit), words.value(test.limit, test.unit)
    if shown == limit and holds is False:
        shown = f"{'just under' if test.at_least else 'just over'} {shown}"
    return f"{test.quantity} {shown} at {moment}, {side} {limit} ({test.whose}){tail}"


def _at_start(judged: Judged, test: AtStart, j: int, holds: bool | None, words: Words) -> Reason:
    if test.rule == "data":
        text = "typical values, not your data sheet's: enter them to get a go"
        return Reason("data", "start", False, None, None, "", None, test.whose, text, "Template")
    text = _bond_sentence(judged, test, j)
    ready = judged.ready_s
    if text == TOO_EARLY and ready is not None:
        text += f": ready about {words.moment(ready)}"
    return Reason(test.rule, test.phase, holds, None, None, "h", None, test.whose, text,
                  "Bond with the coat below")  # fmt: skip


def _by_chance(judged: Judged, test: Share, j: int) -> Reason:
    """Say how many of the outlook's courses go well, rounded down so that a miss shows."""
    share, holds = float(test.shares[j]), _holds(test.outcome(), j)
    of_100, asked = int(share * 100 + ON_THE_LIMIT), f"{test.asked * 100:.0f} asked"
    if test.dry:
        text = (
            f"stays above dew point in {of_100} of 100 of the outlook's courses, "
            f"the instruments' error counted; {asked}"
        )
        title = "Clear of dew in the outlook"
        return Reason(test.rule, test.phase, holds, share, test.asked, "", None, test.whose,
                      text, title)  # fmt: skip
    text = f"holds in {of_100} of 100 of the outlook's courses; {asked}"
    rule = "data" if holds else judged.weakest(j)
    if rule != "data":
        text += f"; most often it fails on {RULE_WORDS[rule]}"
    return Reason(rule, test.phase, holds, share, test.asked, "", None, test.whose, text,
                  "How sure the outlook is")  # fmt: skip


def _bond_sentence(judged: Judged, test: AtStart, j: int) -> str:
    row = judged.case.next_row
    if row is None:
        return "the data sheet below says nothing about this coat over it: ask the maker"
    if row.forbidden:
        return f"these two do not go together: {row.prepare or 'test patch and barrier coat'}"
    return _bond_found(row, test, j)


def _bond_found(row: NextCoat, test: AtStart, j: int) -> str:
    if test.past_maximum is not None and test.past_maximum[j]:
        return "the bond has closed: " + (" or ".join(row.after_max) or "sand first")
    if test.broken[j]:
        return TOO_EARLY
    if test.unknown[j]:
        return "the surface since the coat below is not known all the way"
    if test.caution[j]:
        return "past the sure bond but likely open: solvent-rub or thumb test first"
    need = f"; {row.prepare}" if row.prepare else ""
    return f"ready and bond still open{need}"


def milestones(judged: Judged, j: int) -> list[tuple[str, float | None]]:
    """Named moments of a start in UTC seconds, None where not known."""
    line, series = judged.timeline, judged.series
    named = (
        ("mix", float(line.starts[j])),
        ("first_patch", float(line.application[j])),
        ("last_patch", float(line.application_end[j])),
        (
            "tack_free" if judged.case.dry_column == "tack_free_h" else "sandable",
            float(line.tack_free[j]),
        ),
        ("dew_safe", float(line.dew_safe[j])),
    )
    return [(name, None if np.isnan(x) else series.time_at(x)) for name, x in named]


def what_would_turn(judged: Judged, j: int, words: Words) -> str:
    """Return the smallest change that would flip the verdict of the j-th start, as a sentence."""
    verdict = judged.verdict(j)
    told = reasons(judged, j, words)
    if verdict is Verdict.WAIT:
        return _turn_wait(judged, j, told, words)
    if verdict is Verdict.UNKNOWN:
        first = next(r for r in told if r.holds is None)
        if first.measured is None and first.unit in ("°C", "K", "%"):
            return f"{first.text[0].upper()}{first.text[1:]}: measure it, or import it."
        return f"Find out: {first.text}."
    return _turn_go(judged, j, words)


def _turn_wait(judged: Judged, j: int, told: tuple[Reason, ...], words: Words) -> str:
    # Care (standard errors, typical values) is left out: it never makes a wait.
    rules = judged.broken(j)
    broken = [r for r in told if r.holds is False and r.unit and r.rule in rules
              and r.measured is not None and r.limit is not None]  # fmt: skip
    later = next_better(judged, j)
    wait = f"; or start {words.moment(later)}" if later is not None else ""
    if len(rules) == 1 and broken:
        worst = max(broken, key=lambda r: abs((r.measured or 0) - (r.limit or 0)))
        gap = abs((worst.measured or 0) - (worst.limit or 0))
        unit = "K" if worst.unit == "°C" else worst.unit
        if unit in ("K", "%", "m/s") and worst.at_s is not None:
            what = words.value(gap, unit)
            return f"{what} {_direction(worst)} at {words.moment(worst.at_s)}{wait}."
    return f"Start {words.moment(later)}." if later is not None else "Nothing in this outlook."


def _direction(reason: Reason) -> str:
    more = (reason.measured or 0) < (reason.limit or 0)
    names = {"margin": "more above dew point", "hold_margin": "more above dew point",
             "humidity": "more humidity" if more else "less humidity"}  # fmt: skip
    return names.get(reason.rule, "warmer" if more else "cooler")


def next_better(judged: Judged, j: int) -> float | None:
    """Return the next start after the j-th that is go or a close call, in UTC seconds."""
    better = np.flatnonzero(judged.verdicts[j + 1 :] <= Verdict.BORDERLINE)
    if len(better) == 0:
        return None
    return judged.series.time_at(int(judged.timeline.starts[j + 1 + int(better[0])]))


def _turn_go(judged: Judged, j: int, words: Words) -> str:
    from_margin = [r for r in reasons(judged, j, words)
                   if r.rule in MARGINS and r.unit == "K" and r.measured is not None]  # fmt: skip
    parts = []
    if from_margin:
        tight = min(from_margin, key=lambda r: (r.measured or 0) - (r.limit or 0))
        room = (tight.measured or 0) - (tight.limit or 0)
        at = words.moment(tight.at_s) if tight.at_s is not None else "the start"
        parts.append(f"the coldest spot {words.value(room, 'K')} colder at {at}")
    late = latest_start(judged, j)
    if late is not None:
        parts.append(f"a start after {words.moment(late)}")
    text = ", or ".join(parts)
    return f"{text[0].upper()}{text[1:]}." if parts else ""


def latest_start(judged: Judged, j: int) -> float | None:
    """Return the last start of the unbroken run of go or close call that the j-th is in."""
    bad = np.flatnonzero(judged.verdicts[j:] > Verdict.BORDERLINE)
    if len(bad) == 0 or bad[0] == 0:
        return None
    return judged.series.time_at(int(judged.timeline.starts[j + int(bad[0]) - 1]))


def why_not_later(judged: Judged, j: int, words: Words) -> str:
    """Say why a start after the latest one would not do, with how much too late the film is."""
    bad = np.flatnonzero(judged.verdicts[j:] > Verdict.BORDERLINE)
    if len(bad) == 0 or bad[0] == 0:
        return ""
    after = j + int(bad[0])
    first = next((r for r in reasons(judged, after, words) if r.holds is not True), None)
    if first is None:
        return ""
    if first.rule in MARGINS and first.at_s is not None:
        end = judged.timeline.dew_safe[after]
        if not np.isnan(end):
            late = (float(end) - judged.series.index_of(first.at_s)) * judged.series.step_h
            if late > 0:
                return f"after that dew beats you by {duration(late)}: {first.text}"
    if first.holds is None:
        return "later: the coming hours are not known far enough"
    return f"later: {first.text}"


def tests_named(judged: Judged, rule: str) -> list[Test]:
    """Return the tests of one rule."""
    return [test for test in judged.tests if test.rule == rule]
