"""`advisor windows`: when one coat may start, along a file of conditions."""

from __future__ import annotations

import itertools
from datetime import datetime
from zoneinfo import ZoneInfo

from advisor.base.errors import InputError
from advisor.cli.printing import iso, number, verdict_word, write_json, write_list
from advisor.cli.request import Call, coat_setup
from advisor.climate.series import GRID_S
from advisor.planning.verdict import Verdict
from advisor.planning.windows import Tightest
from advisor.planning.words import Words, duration
from advisor.work.conditions import Conditions
from advisor.work.windows import Step, WindowFound, WindowsAnswer, find_windows


def windows(call: Call) -> int:
    """Find the windows and print them."""
    options = call.options
    if options.area_m2 is None and options.pace_m2_per_h is None and options.apply_hours is None:
        raise InputError(
            "windows: found no length of work; accepted: --area-m2 with --pace-m2-per-h, "
            "or --apply-hours"
        )
    setup, from_s = coat_setup(call), call.moment("from_time")
    conditions = call.conditions()
    answer = find_windows(setup, conditions.series, from_s, options.days)
    if options.json:
        write_json(call.out, as_json(answer, conditions, call.zone, options.starts))
    else:
        _print(call, answer, conditions)
    return 0


def as_json(
    answer: WindowsAnswer, conditions: Conditions, zone: ZoneInfo, with_starts: bool
) -> dict[str, object]:
    """Return the answer in the documented keys, then further ones."""
    told: dict[str, object] = {
        "grid_minutes": GRID_S // 60,
        "windows": [_window_json(window, zone) for window in answer.windows],
    }
    if with_starts:
        told["starts"] = _starts_json(answer, zone)
    sand = [{"from": iso(a, zone), "to": iso(b, zone)} for a, b in answer.sand_first]
    return told | {
        "sand_first": sand,
        "required_steps": [_step_json(step, zone) for step in answer.steps],
        "assumptions": list(answer.assumptions),
        "notes": list(conditions.notes()),
    }


def _window_json(window: WindowFound, zone: ZoneInfo) -> dict[str, object]:
    return {
        "opens": iso(window.opens_s, zone),
        "closes": iso(window.closes_s, zone),
        "verdict": window.verdict.json,
        "chance": number(window.chance),
        "tightest": _tightest_json(window.tightest, zone),
        "closes_because": window.closes_because,
    }


def _tightest_json(tight: Tightest | None, zone: ZoneInfo) -> dict[str, object] | None:
    if tight is None:
        return None
    return {
        "rule": tight.rule,
        "at": iso(tight.at_s, zone),
        "measured": number(tight.measured),
        "limit": number(tight.limit),
    }


def _starts_json(answer: WindowsAnswer, zone: ZoneInfo) -> list[dict[str, object]]:
    names = [verdict.json for verdict in Verdict]
    rows = zip(
        answer.time_s.tolist(), answer.judged.verdicts.tolist(), answer.broken_names(), strict=True
    )
    return [
        {"at": datetime.fromtimestamp(at, zone).isoformat(), "verdict": names[v], "broken": broken}
        for at, v, broken in rows
    ]


def _step_json(step: Step, zone: ZoneInfo) -> dict[str, object]:
    return {
        "rule": step.rule,
        "from": iso(step.from_s, zone),
        "to": iso(step.to_s, zone),
        "wet_at": iso(step.wet_s, zone),
        "text": step.text,
    }


def _print(call: Call, answer: WindowsAnswer, conditions: Conditions) -> None:
    words, out = call.words(), call.out
    judged = answer.judged
    out.write(f"{judged.case.product.name}, {duration(judged.case.apply_h)} of work; ")
    out.write(f"{conditions.file_name}, times in {call.zone.key}\n")
    for window in answer.windows:
        sand = any(a <= window.opens_s and window.closes_s <= b for a, b in answer.sand_first)
        out.write(f"{_window_line(window, sand, words)}\n")
    if call.options.starts:
        write_list(out, "Starts:", _start_lines(answer, words))
    write_list(out, "Bond closed, sand first:", tuple(
        f"{_moment(words, a)} to {_moment(words, b)}" for a, b in answer.sand_first))  # fmt: skip
    write_list(out, "First:", tuple(_step_line(step, words) for step in answer.steps))
    write_list(out, "Assumed:", answer.assumptions)
    write_list(out, "About the file:", conditions.notes())
    out.write("The maker's data sheet comes first.\n")


def _moment(words: Words, time_s: float) -> str:
    """Return a moment with its date, since a file may cover years."""
    return datetime.fromtimestamp(round(time_s), words.zone).strftime("%a %Y-%m-%d %H:%M")


def _window_line(window: WindowFound, sand_first: bool, words: Words) -> str:
    word = verdict_word(window.verdict, sand_first)
    span = f"{_moment(words, window.opens_s)} to {_moment(words, window.closes_s)}"
    tight = window.tightest
    figures = ""
    if tight is not None and window.verdict <= Verdict.BORDERLINE:
        measured, limit = (words.value(x, tight.unit) for x in (tight.measured, tight.limit))
        figures = (
            f", tightest {tight.rule} {measured} at {_moment(words, tight.at_s)} (limit {limit})"
        )
    return f"{word:<11} {span}{figures}, then {window.closes_because}"


def _start_lines(answer: WindowsAnswer, words: Words) -> tuple[str, ...]:
    """One line per run of starts with the same verdict and rules: the unmerged truth."""
    rows = zip(
        answer.time_s.tolist(), answer.judged.verdicts.tolist(), answer.broken_names(), strict=True
    )
    lines = []
    for (verdict, broken), run in itertools.groupby(rows, key=lambda row: (row[1], row[2])):
        times = [row[0] for row in run]
        why = f" ({', '.join(broken)})" if broken else ""
        span = f"{_moment(words, times[0])} to {_moment(words, times[-1])}"
        lines.append(f"{span}: {verdict_word(Verdict(verdict), False)}{why}")
    return tuple(lines)


def _step_line(step: Step, words: Words) -> str:
    if step.from_s is None or step.to_s is None or step.wet_s is None:
        return step.text
    return (
        f"for starts {_moment(words, step.from_s)} to {_moment(words, step.to_s)}: it was wet at "
        f"{_moment(words, step.wet_s)}, {step.text}"
    )
