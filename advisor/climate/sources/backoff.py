"""When a weather service may be asked again. Pure: headers, status, failures, time, jitter in.

The services' own rules: nothing before `Expires`, conditional requests then, off at once after
429, gone after 403 until the user changes something. Waits after failures grow and start anew
with the first good answer.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from email.utils import parsedate_to_datetime

#: Never ask more often than this, whatever the headers say.
FLOOR_S = 600
#: Spread of many installations' requests, so that they do not all ask on the hour.
JITTER_S = 420
#: How long an answer counts as fresh where the service does not say.
USUAL_LIFE_S = 3600
#: The longest wait, and the longest life of an answer.
CAP_S = 86400
#: Our clock and the service's may differ by this much before the user is told.
SKEW_TOLD_S = 900

_LADDER_S = (60, 120, 300, 900, 3600)
_REFUSED = frozenset({401, 403})
_NOT_HERE = frozenset({400, 404, 410, 422})
_NOT_HERE_S = 6 * 3600
#: A service that is down may say for how long.
_DOWN = 503
_TOO_MANY_S = 900
_OTHER_S = 3600

#: Who must wait: whoever asks this source, or only this question (its first address).
SOURCE, QUESTION = "source", "question"


@dataclass(frozen=True)
class State:
    """What is remembered of a source, or of one question to it. Times are UTC seconds.

    `stopped_for` names the settings it was refused under: while they are the same it is not
    asked again. `expires_s` is when the answer to the question stops being fresh.
    """

    next_allowed_s: int = 0
    expires_s: int = 0
    failures: int = 0
    last_status: int | None = None
    last_error: str = ""
    stopped_for: str = ""


@dataclass(frozen=True)
class Failure:
    """Why there is no forecast: status (None: no answer, 200: an unusable one) and reason."""

    status: int | None
    reason: str
    headers: Mapping[str, str]
    said: str = ""


def scope(failure: Failure) -> str:
    """Tell who must wait: a place outside the area does not bar asking for another place."""
    return QUESTION if failure.status in _NOT_HERE else SOURCE


def outside(here: State) -> bool:
    """Tell whether a place waits because the source has nothing for it."""
    return here.last_status in _NOT_HERE


def after_failure(
    state: State, failure: Failure, now_s: int, jitter_s: int, settings_id: str = ""
) -> State:
    """Return the state after one more failure; 403 and 401 stop it for these settings."""
    wait_s = _wait_s(failure, state.failures, now_s)
    # A wait of a minute must stay one: long waits take the whole jitter, short ones a share.
    wait_s += round(jitter_s * min(1.0, wait_s / 3600))
    return replace(
        state,
        next_allowed_s=now_s + min(wait_s, CAP_S + JITTER_S),
        failures=state.failures + 1,
        last_status=failure.status,
        last_error=failure.reason,
        stopped_for=settings_id if failure.status in _REFUSED else "",
    )


def after_success(status: int, expires_s: int, now_s: int, jitter_s: int) -> State:
    """Return the state of a question whose answers stay fresh until `expires_s`."""
    next_s = max(expires_s, now_s + FLOOR_S) + jitter_s
    return State(next_allowed_s=next_s, expires_s=expires_s, last_status=status)


def may_ask(state: State, now_s: int, settings_id: str) -> bool:
    """Tell whether asking is allowed now.

    A time further off than any wait was written by a clock that was wrong: it does not bind.
    """
    if state.stopped_for and state.stopped_for == settings_id:
        return False
    far = state.next_allowed_s > now_s + CAP_S + JITTER_S + FLOOR_S
    # Once the settings were changed, a refusal no longer counts.
    return far or now_s >= state.next_allowed_s or bool(state.stopped_for)


def expires_s(headers: Mapping[str, str], now_s: int) -> int:
    """Return until when an answer is fresh: `max-age`, else `Expires`, else an hour.

    `Expires` is measured from the service's own `Date`, so a wrong clock here does no harm.
    Header names are in lower case.
    """
    life_s = _max_age_s(headers)
    if life_s is None:
        life_s = _expires_life_s(headers, now_s)
    if life_s is None:
        life_s = USUAL_LIFE_S
    return now_s + min(max(life_s, 0), CAP_S)


def skew_s(headers: Mapping[str, str], now_s: int) -> int | None:
    """Return by how much our clock is ahead of the service's `Date`; None without one."""
    date_s = http_date_s(headers.get("date"))
    return None if date_s is None else now_s - date_s - _age_s(headers)


def clock_warning(ahead_s: int | None) -> str:
    """Say that this computer's clock differs from the service's; empty when it does not."""
    if ahead_s is None or abs(ahead_s) <= SKEW_TOLD_S:
        return ""
    side = "ahead of" if ahead_s > 0 else "behind"
    return f"this computer's clock is {_span(abs(ahead_s))} {side} the weather service's; set it"


def jitter_s(seed: str) -> int:
    """Return 0 to 420 s, the same for the same seed."""
    return int.from_bytes(hashlib.sha256(seed.encode()).digest()[:4], "big") % (JITTER_S + 1)


def _wait_s(failure: Failure, failures: int, now_s: int) -> int:
    if failure.status == 429:
        return _too_many_s(failure, failures, now_s)
    if failure.status in _NOT_HERE:
        return _NOT_HERE_S
    if failure.status in _REFUSED:
        return CAP_S
    if failure.status is not None and 400 <= failure.status < 500:
        return _doubled(_OTHER_S, failures)
    rung_s = _LADDER_S[min(failures, len(_LADDER_S) - 1)]
    told = _retry_after_s(failure.headers, now_s) if failure.status == _DOWN else None
    return rung_s if told is None else min(max(told, rung_s), CAP_S)


def _too_many_s(failure: Failure, failures: int, now_s: int) -> int:
    """Read `Retry-After`, else the reason: counters are swept each minute, hour or UTC day."""
    told = _retry_after_s(failure.headers, now_s)
    if told is not None:
        return min(max(told, _LADDER_S[0]), CAP_S)
    said = failure.said.lower()
    if "minute" in said:  # "Minutely ... limit exceeded. Please try again in one minute."
        return _LADDER_S[0]
    if "hour" in said:
        return max(_LADDER_S[0], 3600 - now_s % 3600)
    if "daily" in said or "day" in said or "tomorrow" in said:
        return max(_LADDER_S[0], 86400 - now_s % 86400)
    return _doubled(_TOO_MANY_S, failures)


def _doubled(first_s: int, failures: int) -> int:
    return min(CAP_S, first_s << min(failures, 10))


def _retry_after_s(headers: Mapping[str, str], now_s: int) -> int | None:
    """Return seconds from a number or a date; None where there is none to be read."""
    text = headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit():
        return int(text[:9])
    until_s = http_date_s(text)
    if until_s is None:
        return None
    date_s = http_date_s(headers.get("date"))
    return until_s - (now_s if date_s is None else date_s)


def _max_age_s(headers: Mapping[str, str]) -> int | None:
    for part in headers.get("cache-control", "").lower().split(","):
        name, _, value = part.strip().partition("=")
        digits = value.strip().strip('"')
        if name.strip() == "max-age" and digits.isascii() and digits.isdigit():
            return int(digits[:9]) - _age_s(headers)
    return None


def _age_s(headers: Mapping[str, str]) -> int:
    """How long the answer has lain in a cache on the way."""
    age = headers.get("age", "").strip()
    return int(age[:9]) if age.isascii() and age.isdigit() else 0


def _expires_life_s(headers: Mapping[str, str], now_s: int) -> int | None:
    if "expires" not in headers:
        return None
    until_s = http_date_s(headers["expires"])
    if until_s is None:
        return 0  # such as "0": expired already (RFC 9111, 5.3)
    date_s = http_date_s(headers.get("date"))
    return until_s - (now_s if date_s is None else date_s + _age_s(headers))


def http_date_s(text: str | None) -> int | None:
    """Read an HTTP date as UTC seconds; None where it is none."""
    if not text:
        return None
    try:
        return int(parsedate_to_datetime(text).timestamp())
    except (ValueError, OverflowError, OSError):
        return None


def _span(seconds: int) -> str:
    if seconds < 5400:
        return f"{seconds / 60:.0f} min"
    if seconds < 48 * 3600:
        return f"{seconds / 3600:.0f} h"
    return f"{seconds / 86400:.0f} days"
