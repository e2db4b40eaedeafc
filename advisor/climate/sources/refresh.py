"""Get a newer forecast if it is time to: the one use of the network.

Whatever happens, the last good forecast stays and is returned with the reason. Only an answer
that was parsed and found plausible goes into the archive.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import Literal

from advisor.base.errors import StoreError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources import archive, backoff, http_state
from advisor.climate.sources.asking import Asked, Session, ask_all
from advisor.climate.sources.backoff import Failure, State
from advisor.climate.sources.source import Ask, Source

_STOPPED = "; it is not asked again until a setting is changed"

Kind = Literal["fetched", "unchanged", "not due", "kept", "off"]


@dataclass(frozen=True, eq=False)
class Outcome:
    """How asking went. `forecast` is the last good one whatever happened, None if never any.

    `fetched` is new, `unchanged` was confirmed, `not due` asked nothing, `kept` failed for
    `reason`, `off` may not ask. `checked_s` is when the source last stood by it and
    `next_allowed_s` when asking is of use again (None: not before a setting changes).
    `outside` tells that the source has nothing for this place: another one may.
    """

    kind: Kind
    forecast: Forecast | None
    checked_s: int | None = None
    reason: str = ""
    next_allowed_s: int | None = None
    warnings: tuple[str, ...] = ()
    outside: bool = False


def refresh(
    store: Store, source: Source, place: Place, now_s: float, *, contact: str, session: Session
) -> Outcome:
    """Ask the source for the place unless it is too early; at most seconds, never raises.

    InputError and StoreError excepted: a contact no header can hold, a database that is gone.
    """
    work = _Refresh(store, source, place, int(now_s), contact, session)
    barred = work.barred()
    if barred is not None:
        return barred
    asked = ask_all(source, place, work.now_s, work.asks, session, contact, work.fresh)
    if asked.stopped:
        return work.last("kept", "stopped")
    return work.failed(asked) if asked.failure is not None else work.succeeded(asked)


class _Refresh:
    """One refresh: who asks what, and what is written down afterwards."""

    def __init__(
        self,
        store: Store,
        source: Source,
        place: Place,
        now_s: int,
        contact: str,
        session: Session,
    ) -> None:
        settings = Settings(store)
        key = settings.text("openmeteo_key") if source.id == "openmeteo" else ""
        self._key = key
        self.store, self.source, self.place = store, source, place
        self.now_s, self.session = now_s, session
        self.asks = source.requests(place, now_s, key)
        self._settings = settings
        self._settings_id = hashlib.sha256(f"{contact}\n{key}".encode()).hexdigest()[:16]
        self._server = http_state.service(self.asks[0], key)
        self._place_name = http_state.place_name(place)
        self._whole = http_state.load(store, source.id, self._server)
        self._here = http_state.load(store, source.id, self._place_name)

    def barred(self) -> Outcome | None:
        """Return why nothing may be asked now; None when it may."""
        if not self._settings.flag("fetch_forecasts"):
            return self.last("off", "fetching forecasts is switched off in the settings")
        if self._terms_open():
            return self.last("off", f"the terms of {self.source.name} were not agreed to")
        if self.session.stop.is_set():
            return self.last("kept", "stopped")
        held_s = self.session.held_until(self.source.id)
        states = (self._whole, self._here, State(next_allowed_s=held_s))
        if all(backoff.may_ask(one, self.now_s, self._settings_id) for one in states):
            return self._claimed()
        return self._too_early(states)

    def fresh(self, ask: Ask) -> bool:
        """Tell whether the remembered answer to a question still counts."""
        state = http_state.load(self.store, self.source.id, http_state.question(ask))
        return self.now_s < state.expires_s <= self.now_s + backoff.CAP_S

    def failed(self, asked: Asked) -> Outcome:
        """Write down that the source must be left alone for a while."""
        failure = asked.failure
        assert failure is not None
        whole = backoff.scope(failure) == backoff.SOURCE
        after = self._after(failure, self._whole if whole else self._here)
        states = {self._server if whole else self._place_name: after}
        if not whole:  # the claim ends here: another place may be asked about
            states[self._server] = replace(self._whole, next_allowed_s=self.now_s)
        warnings = (*asked.warnings, *self._written(states))
        if after.stopped_for:
            return self.last("kept", failure.reason + _STOPPED, None, warnings)
        found = self.last("kept", failure.reason, after.next_allowed_s, warnings)
        return replace(found, outside=not whole)

    def succeeded(self, asked: Asked) -> Outcome:
        """Keep the forecast and when to ask again."""
        assert asked.forecast is not None
        states = {url: State(expires_s=until_s) for url, until_s in asked.expires_s.items()}
        due_s = min(asked.expires_s.values(), default=self.now_s)
        after = backoff.after_success(asked.status, due_s, self.now_s, self._jitter_s())
        states[self._place_name] = after
        states[self._server] = State(last_status=asked.status)
        if asked.barred is not None:
            states[self._server] = self._after(asked.barred, self._whole)
        try:
            new = archive.put(self.store, asked.forecast, self.place, asked.bodies, self.now_s)
        except StoreError as error:
            return self._not_stored(asked, after.next_allowed_s, error)
        warnings = (*asked.warnings, *self._written(states), *self._tidied(asked))
        return self.last("fetched" if new else "unchanged", "", after.next_allowed_s, warnings)

    def last(
        self,
        kind: Kind,
        reason: str,
        next_allowed_s: int | None = None,
        warnings: tuple[str, ...] = (),
    ) -> Outcome:
        """Return the last good forecast with what happened."""
        kept = archive.latest_kept(self.store, self.source.id, self.place)
        forecast, checked_s = (None, None) if kept is None else (kept.forecast, kept.checked_s)
        return Outcome(kind, forecast, checked_s, reason, next_allowed_s, warnings)

    def _terms_open(self) -> bool:
        """The terms bind the free service only: not an own key, not an own server."""
        if not self.source.opt_in or self._settings.flag("openmeteo_agreed"):
            return False
        server = self._settings.text("openmeteo_server").rstrip("/")
        own = bool(server) and all(ask.url.startswith(f"{server}/") for ask in self.asks)
        return not (own or self._key)

    def _claimed(self) -> Outcome | None:
        """Keep other windows from asking the same; a busy database does not keep us from it."""
        claimant = (self.store, self.source.id, self._server, self._settings_id, self.now_s)
        try:
            if http_state.claim(*claimant):
                return None
        except StoreError:
            return None
        return self.last(
            "not due",
            "asked a moment ago, perhaps by another window",
            self.now_s + http_state.CLAIM_S,
        )

    def _too_early(self, states: tuple[State, ...]) -> Outcome:
        until_s = max(one.next_allowed_s for one in states)
        trouble = next((one.last_error for one in states if one.last_error), "")
        if any(one.stopped_for == self._settings_id for one in states if one.stopped_for):
            return self.last("kept", trouble + _STOPPED)
        found = self.last("kept" if trouble else "not due", trouble, until_s)
        return replace(found, outside=backoff.outside(self._here))

    def _after(self, failure: Failure, before: State) -> State:
        return backoff.after_failure(
            before, failure, self.now_s, self._jitter_s(), self._settings_id
        )

    def _not_stored(self, asked: Asked, next_s: int, error: StoreError) -> Outcome:
        """Show the forecast all the same; asked again, the service says "not modified"."""
        self.session.hold(self.source.id, next_s)
        words = f"the forecast could not be stored: {error}"
        return Outcome("kept", asked.forecast, self.now_s, words, next_s, asked.warnings)

    def _written(self, states: dict[str, State]) -> tuple[str, ...]:
        """Write the states; hold the source in memory where the database is busy."""
        try:
            http_state.save(self.store, self.source.id, states)
        except StoreError as error:
            until_s = max(one.next_allowed_s for one in states.values())
            self.session.hold(self.source.id, until_s)
            return (f"when to ask again could not be stored: {error}",)
        return ()

    def _tidied(self, asked: Asked) -> tuple[str, ...]:
        """Drop what is old, unless a clock is off: one that jumped ahead would empty it all."""
        if asked.clock_is_off:
            return ()
        try:
            archive.prune(self.store, self.now_s)
            http_state.tidy(self.store, self.now_s)
        except StoreError as error:
            return (f"old forecasts could not be dropped: {error}",)
        self.session.tidy()
        return ()

    def _jitter_s(self) -> int:
        """Differ between shops and times, yet be the same for the same shop and time."""
        lat, lon = self.place.lat_deg, self.place.lon_deg
        seed = f"{self.source.id} {lat!r} {lon!r} {self._settings_id} {self.now_s}"
        return backoff.jitter_s(seed)
