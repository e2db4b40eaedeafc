"""`advisor check`: the verdict of one start, by a reading or along a file."""

from __future__ import annotations

import argparse
import math

from advisor.base.errors import InputError
from advisor.base.paths import default_database
from advisor.base.units import format_difference_with_sd, format_temperature
from advisor.cli.printing import iso, number, verdict_word, write_json, write_list
from advisor.cli.request import Call, coat_setup, sensor_spread
from advisor.physics import moist_air
from advisor.planning.explain import Reason, one_per_title
from advisor.planning.verdict import Verdict
from advisor.planning.words import Words
from advisor.work.check import (
    CheckAnswer,
    Clock,
    check_through,
    moment_only,
    stale_sentences,
)
from advisor.work.check_now import check_common, check_now, reading_at
from advisor.work.stored_reading import stored_reading
from advisor.work.views import Reading

#: Exit codes by verdict; only this command has more than done and failed.
EXIT_CODES = (0, 10, 12, 11)
VALUES = ("air", "rh", "wet_bulb", "pressure", "altitude", "surface", "surface_hot")
#: The window holds the same reading to what it asks before a batch is mixed.
CLOSE_CALL_BEFORE_MIXING = (
    "The limits hold now; before mixing, the window calls this a close call until an outlook "
    "tells the hours to come."
)
#: What only a product gives a meaning.
NEEDS_PRODUCT = (
    "previous", "area_m2", "pace_m2_per_h", "apply_hours", "working_hours", "mix_temp", "trend",
    "prepared", "timber_moisture", "tin_temp",
)  # fmt: skip


def check(call: Call) -> int:
    """Judge, print, and return the exit code of the verdict."""
    at_s = call.moment("at")
    clock = Clock(
        call.now_s if at_s is None else at_s,
        call.now_s,
        at_s is not None,
        call.options.stale_after_min * 60.0,
    )
    words = call.words(clock.at_s)
    answer = _answer(call, clock, words)
    if call.options.json:
        write_json(call.out, as_json(answer, words))
    else:
        _print(call, answer, words)
    return EXIT_CODES[answer.verdict]


def _answer(call: Call, clock: Clock, words: Words) -> CheckAnswer:
    options = call.options
    if options.product is None:
        _refuse(options, NEEDS_PRODUCT, "--product: found none", "an id or a product file with {}")
    if options.conditions is None:
        _refuse(options, ("station", "surface_lag_h"), "--conditions: found none", "a FILE with {}")
        return _by_reading(call, clock, words)
    _refuse(options, VALUES, "--conditions: found {} as well", "a file or a reading, not both")
    conditions = call.conditions()
    if options.product is None:
        stale = tuple(stale_sentences(conditions, clock, words))
        reading = reading_at(conditions.series, clock.at_s)
        return check_common(sensor_spread(options), reading, words, certain=options.certain,
                            stale=stale, notes=conditions.notes())  # fmt: skip
    return check_through(coat_setup(call), conditions, clock, words)


def _by_reading(call: Call, clock: Clock, words: Words) -> CheckAnswer:
    options = call.options
    reading, stale = _reading(call, clock, words)
    if options.product is None:
        spread = sensor_spread(options)
        return check_common(spread, reading, words, certain=options.certain, stale=stale)
    return check_now(coat_setup(call), reading, words, now_s=call.now_s, stale=stale)


def _reading(call: Call, clock: Clock, words: Words) -> tuple[Reading, tuple[str, ...]]:
    """Return what the options say, else the newest readings in the database."""
    options = call.options
    if any(getattr(options, name) is not None for name in VALUES):
        return typed_reading(options, clock.at_s), ()
    database = options.database or default_database()
    kept = stored_reading(database, clock.at_s, clock.stale_after_s, words)
    if kept is None:
        raise InputError(
            f"check: found neither a reading nor a file, and none of the last day in {database}; "
            "accepted: --air, --rh and --surface, or --conditions FILE"
        )
    return kept


def _refuse(options: argparse.Namespace, names: tuple[str, ...], found: str, accepted: str) -> None:
    for name in names:
        if getattr(options, name) is not None:
            option = "--" + name.replace("_", "-")
            raise InputError(f"{found.format(option)}; accepted: {accepted.format(option)}")


def typed_reading(options: argparse.Namespace, at_s: float) -> Reading:
    """Return the reading in the options; InputError when it contradicts itself."""
    hot, cold = options.surface_hot, options.surface
    if hot is not None and cold is not None and hot < cold:
        raise InputError(
            f"--surface-hot: found {hot:g}, colder than --surface {cold:g}; accepted: the hottest "
            "spot, at least as warm as the coldest"
        )
    return Reading(at_s, options.air, _humidity(options), cold, hot)


def _humidity(options: argparse.Namespace) -> float | None:
    """RH in %, as read or from the wet bulb."""
    wet = options.wet_bulb
    if wet is None:
        _refuse(options, ("pressure", "altitude"), "--wet-bulb: found none", "a wet bulb with {}")
        return None if options.rh is None else float(options.rh)
    if options.rh is not None:
        raise InputError("--wet-bulb: found --rh as well; accepted: one of them")
    if options.air is None:
        raise InputError("--wet-bulb: found no --air; accepted: both, read together")
    return moist_air.rh_from_wet_bulb(float(options.air), float(wet), _pressure(options))


def _pressure(options: argparse.Namespace) -> float:
    if (options.pressure is None) == (options.altitude is None):
        found = "neither" if options.pressure is None else "both"
        raise InputError(
            f"--wet-bulb: found {found} of --pressure and --altitude; accepted: one of them, "
            "such as --altitude 0"
        )
    if options.pressure is not None:
        return float(options.pressure)
    return moist_air.pressure_at_altitude_hpa(float(options.altitude))


def as_json(answer: CheckAnswer, words: Words) -> dict[str, object]:
    """Return the answer in the documented keys, then further ones."""
    zone = words.zone
    return {
        "verdict": answer.verdict.json,
        "scope": answer.scope,
        "chance": number(answer.chance),
        "at": iso(answer.at_s, zone),
        "dew_point_c": number(answer.dew_point_c),
        "frost_point_c": number(answer.frost_point_c),
        "margin_k": number(answer.margin_k),
        "margin_sd_k": number(answer.margin_sd_k),
        "reasons": [_reason_json(reason, words) for reason in answer.reasons],
        "milestones": [{"name": m.name, "at": iso(m.at_s, zone)} for m in answer.milestones],
        "sand_first": answer.sand_first,
        "must_last_until": iso(answer.must_last_until_s, zone),
        "latest_start": iso(answer.latest_start_s, zone),
        "would_turn": answer.would_turn,
        "warnings": list(answer.warnings),
        "required_steps": list(answer.required_steps),
        "assumptions": list(answer.assumptions),
        "notes": list(answer.notes),
    }


def _reason_json(reason: Reason, words: Words) -> dict[str, object]:
    return {
        "rule": reason.rule,
        "phase": str(reason.phase),
        "holds": reason.holds,
        "measured": number(reason.measured),
        "limit": number(reason.limit),
        "unit": reason.unit,
        "at": iso(reason.at_s, words.zone),
        "text": reason.text,
    }


def _print(call: Call, answer: CheckAnswer, words: Words) -> None:
    out = call.out
    word = verdict_word(answer.verdict, answer.sand_first)
    out.write(f"{word} at {words.iso(answer.at_s)}, {_scope(answer, words)}\n")
    if answer.scope == "now" and answer.verdict is Verdict.GO:
        out.write(f"{CLOSE_CALL_BEFORE_MIXING}\n")
    out.write(f"{_headline(answer, words)}\n")
    if answer.latest_start_s is not None:
        out.write(f"Latest start {words.moment(answer.latest_start_s)}")
        out.write(f": {answer.latest_because}\n" if answer.latest_because else "\n")
    write_list(out, "First:", answer.required_steps)
    write_list(out, "Why:", tuple(_told(reason) for reason in _short(answer.reasons)))
    write_list(out, "Then:", tuple(_moment(m.label, m.at_s, words) for m in answer.milestones))
    if answer.would_turn:
        out.write(f"What would change it: {answer.would_turn}\n")
    write_list(out, "Warnings:", answer.warnings)
    write_list(out, "Assumed:", answer.assumptions)
    write_list(out, "About the file:", answer.notes)
    out.write("The maker's data sheet comes first.\n")


def _scope(answer: CheckAnswer, words: Words) -> str:
    """What the verdict is about; how long it must last where a start is open."""
    if answer.scope != "now":
        return "judged until the film can take dew"
    if answer.verdict > Verdict.BORDERLINE:
        return "judged for this moment only"
    return moment_only(answer.must_last_until_s, words)


def _short(reasons: tuple[Reason, ...]) -> tuple[Reason, ...]:
    """Keep of what holds only the tightest of each kind; whatever does not hold stays."""
    holding = tuple(reason for reason in reasons if reason.holds)
    return (*(r for r in reasons if not r.holds), *one_per_title(holding))


def _told(reason: Reason) -> str:
    mark = "?  " if reason.holds is None else "yes" if reason.holds else "no "
    return f"{mark} {reason.text}"


def _headline(answer: CheckAnswer, words: Words) -> str:
    name = answer.product_name or "No product: common practice alone"
    if answer.margin_k is None:
        return f"{name}; above dew point: can't tell"
    margin = format_difference_with_sd(answer.margin_k, answer.margin_sd_k, words.units)
    dew = math.nan if answer.dew_point_c is None else answer.dew_point_c
    return f"{name}; {margin} above dew point ({format_temperature(dew, words.units)})"


def _moment(label: str, at_s: float | None, words: Words) -> str:
    return f"{label}: {'not known' if at_s is None else words.moment(at_s)}"
