"""The questions of one refresh, one after the other, to a forecast or a failure."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from http import HTTPStatus
from typing import Protocol

from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources import backoff, http_state
from advisor.climate.sources.archive import Body
from advisor.climate.sources.backoff import Failure
from advisor.climate.sources.source import Ask, BadAnswer, FollowUp, Source
from advisor.climate.sources.wire import Answer, NoAnswer

#: More questions than any source has; a service that sends us in circles ends here.
MOST_ASKS = 12
_GOOD = frozenset({200, 203})
_SAID_IN = ("reason", "detail", "title")
_MOST_SAID = 160


class Session(Protocol):
    """What asks: `client.Client`, or a stand-in."""

    stop: threading.Event

    def get(self, ask: Ask, contact: str = "", *, fresh: bool = False) -> Answer | NoAnswer:
        """Ask, or take the remembered answer where `fresh` allows it."""

    def forget(self, ask: Ask) -> None:
        """Drop the remembered answer."""

    def tidy(self) -> None:
        """Drop remembered answers that are old."""

    def hold(self, source_id: str, until_s: int) -> None:
        """Remember in memory until when a source is left alone."""

    def held_until(self, source_id: str) -> int:
        """Return what `hold` remembered; 0 for nothing."""


@dataclass
class Asked:
    """What came of the questions: a forecast or a failure, and what to remember.

    `barred` is a refusal met on the way to something the forecast can do without.
    """

    forecast: Forecast | None = None
    failure: Failure | None = None
    barred: Failure | None = None
    stopped: bool = False
    clock_is_off: bool = False
    status: int = 200
    bodies: list[Body] = field(default_factory=list)
    expires_s: dict[str, int] = field(default_factory=dict)
    warnings: tuple[str, ...] = ()

    def warn(self, words: str) -> None:
        """Add a warning once."""
        if words and words not in self.warnings:
            self.warnings = (*self.warnings, words)


def ask_all(
    source: Source,
    place: Place,
    now_s: int,
    asks: tuple[Ask, ...],
    session: Session,
    contact: str,
    fresh: Callable[[Ask], bool],
) -> Asked:
    """Ask all questions; where a place has moved on the service's grid (404), once anew."""
    first = _Chain(source, place, now_s, session, contact, fresh)
    asked = first.run(asks)
    if not first.moved:
        return asked
    again = _Chain(source, place, now_s, session, contact, lambda ask: False)
    return again.run(asks)


class _Chain:
    """The questions still to ask, and what came of those before."""

    def __init__(
        self,
        source: Source,
        place: Place,
        now_s: int,
        session: Session,
        contact: str,
        fresh: Callable[[Ask], bool],
    ) -> None:
        self.moved = False
        self._source, self._place, self._now_s = source, place, now_s
        self._session, self._contact, self._fresh = session, contact, fresh
        self._found = Asked()
        self._from_memory = False

    def run(self, asks: tuple[Ask, ...]) -> Asked:
        """Ask one after the other until all are answered or one that is needed fails."""
        left = list(asks)
        found = self._found
        for _ in range(MOST_ASKS):
            if not left or found.failure or found.barred or found.stopped:
                break
            left[:0] = self._step(left.pop(0))
        if found.forecast is None and found.failure is None and not found.stopped:
            found.failure = Failure(200, f"{self._source.name} gave no forecast", {})
        return found

    def _step(self, ask: Ask) -> tuple[Ask, ...]:
        """Ask one question; return what must be asked next because of it."""
        if self._session.stop.is_set():
            self._found.stopped = True
            return ()
        answer = self._session.get(ask, self._contact, fresh=self._fresh(ask))
        if isinstance(answer, NoAnswer):
            self._found.stopped = answer.stopped
            return () if answer.stopped else self._lost(ask, self._no_answer(answer))
        self._look_at_clock(answer)
        refusal = self._refusal(answer)
        if refusal is not None:
            if answer.status in _GOOD:
                self._session.forget(ask)
            gone = answer.status == 404 and not ask.optional
            self.moved = self.moved or (gone and self._from_memory)
            return self._lost(ask, refusal)
        return self._read(ask, answer)

    def _read(self, ask: Ask, answer: Answer) -> tuple[Ask, ...]:
        """Parse an answer and remember it; what cannot be used is forgotten everywhere."""
        try:
            parsed, at_s = self._parsed(ask, answer)
        except BadAnswer as error:
            self._session.forget(ask)
            return self._lost(ask, Failure(200, str(error), answer.headers))
        found = self._found
        found.bodies.append(Body(ask.kind, answer.body, at_s))
        if answer.asked:
            found.status = answer.status
            url = http_state.question(ask)
            found.expires_s[url] = backoff.expires_s(answer.headers, self._now_s)
        if answer.status == 203:
            found.warn(f"{self._source.name} marks this forecast as on trial or coming to its end")
        if isinstance(parsed, FollowUp):
            self._from_memory = self._from_memory or not answer.asked or answer.unchanged
            return parsed.asks
        found.forecast = parsed
        return ()

    def _parsed(self, ask: Ask, answer: Answer) -> tuple[Forecast | FollowUp, int]:
        """Parse as of our clock; where that is off and in the way, of the service's."""
        ahead_s = backoff.skew_s(answer.headers, self._now_s) or 0
        earlier = self._found.forecast
        try:
            return (
                self._source.parse(ask.kind, answer.body, self._place, self._now_s, earlier),
                self._now_s,
            )
        except BadAnswer:
            if abs(ahead_s) <= backoff.SKEW_TOLD_S:
                raise
        at_s = self._now_s - ahead_s
        return self._source.parse(ask.kind, answer.body, self._place, at_s, earlier), at_s

    def _lost(self, ask: Ask, failure: Failure) -> tuple[Ask, ...]:
        """Go on without an answer where the source can; else this is the failure."""
        # After "too many" or "refused", another question to the same service makes it worse.
        found, barred = self._found, failure.status in {401, 403, 429}
        # And where nothing came back at all, the next question would only wait as long again.
        if ask.instead is not None and not barred and failure.status is not None:
            found.warn(f"{failure.reason}; asked in another way")
            return (ask.instead,)
        if ask.optional and found.forecast is not None:
            found.warn(failure.reason)
            found.barred = failure if barred else None
            return ()
        found.failure = failure
        return ()

    def _no_answer(self, answer: NoAnswer) -> Failure:
        return Failure(None, f"{self._source.name}: {answer.reason}", {})

    def _refusal(self, answer: Answer) -> Failure | None:
        """Return the failure for a status or a kind of content that is no forecast."""
        if answer.status not in _GOOD:
            said = _said(answer.body)
            words = f"{self._source.name} answered {_status_words(answer.status)}"
            words = f"{words}: {said}" if said else words
            return Failure(answer.status, words, answer.headers, said)
        kind = answer.headers.get("content-type", "").partition(";")[0].strip().lower()
        if answer.asked and not answer.unchanged and kind and not kind.endswith("json"):
            words = "a web page instead of a forecast; does this network want you to sign in?"
            return Failure(200, f"{self._source.name}: {words}", answer.headers)
        return None

    def _look_at_clock(self, answer: Answer) -> None:
        if answer.asked:
            told = backoff.clock_warning(backoff.skew_s(answer.headers, self._now_s))
            self._found.warn(told)
            self._found.clock_is_off = self._found.clock_is_off or bool(told)


def _status_words(status: int) -> str:
    try:
        return f"{status} ({HTTPStatus(status).phrase.lower()})"
    except ValueError:
        return str(status)


def _said(body: bytes) -> str:
    """Return the service's own reason from a JSON answer, in one line; empty without one."""
    try:
        value = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    if not isinstance(value, Mapping):
        return ""
    texts = [value[name] for name in _SAID_IN if isinstance(value.get(name), str)]
    line = "".join(c if c.isprintable() else " " for c in texts[0]) if texts else ""
    return line[:_MOST_SAID]
