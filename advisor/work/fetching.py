"""Where the forecast comes from: the services to choose from, how they stand, asking them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from types import MappingProxyType

from advisor.base.errors import InputError
from advisor.base.settings import Settings
from advisor.base.store import Store
from advisor.climate.outdoor import Forecast
from advisor.climate.place import Place
from advisor.climate.sources import archive, backoff, http_state
from advisor.climate.sources.all_sources import ALL, by_id, suggested
from advisor.climate.sources.asking import Session
from advisor.climate.sources.openmeteo import OpenMeteo
from advisor.climate.sources.refresh import Outcome, refresh
from advisor.climate.sources.source import Source
from advisor.planning.words import Words, duration
from advisor.work.outlook_basis import NOWHERE, OWN_SOURCES
from advisor.work.this_year import LAID_NOTE
from advisor.work.views import SourceView

#: A forecast that its source has not confirmed for longer than this is called old.
OLD_S = 12 * 3600
_OWN_NAMES: Mapping[str, str] = MappingProxyType(
    {"typed": "Typed by hand", "file": "Weather file", "demo": "Invented weather"}
)


def source_of(settings: Settings, place: Place) -> Source:
    """Return the service to ask: the chosen one, else the one that suits the place best."""
    return _sources_of(settings, place)[0]


def _sources_of(settings: Settings, place: Place) -> tuple[Source, ...]:
    """Return the services to ask: the chosen one alone, else those that suit the place."""
    chosen = settings.text("forecast_source")
    own = not chosen or chosen in OWN_SOURCES
    found = suggested(place) if own else (by_id(chosen),)
    return tuple(_as_set(settings, source) for source in found)


def _as_set(settings: Settings, source: Source) -> Source:
    """Return the source with the user's own server, where there is one."""
    server = settings.text("openmeteo_server")
    return OpenMeteo(server=server) if source.id == "openmeteo" and server else source


def choose(settings: Settings, source_id: str, agreed: bool) -> None:
    """Choose a source; InputError where its terms must be agreed to first."""
    if source_id not in OWN_SOURCES and source_id:
        source = by_id(source_id)
        own = settings.text("openmeteo_key") or settings.text("openmeteo_server")
        if source.opt_in and not own:
            if not agreed:
                raise InputError(f"{source.name}: found its terms not agreed to; accepted: yes")
            settings.set("openmeteo_agreed", True)
    settings.set("forecast_source", source_id)


def fetch(store: Store, settings: Settings, session: Session, place: Place, now_s: float) -> str:
    """Ask the chosen service if it is due; say in one line how it went.

    Where none was chosen and the best one has nothing for the place, such as beyond a border,
    the next one is asked at once.
    """
    if settings.text("forecast_source") in OWN_SOURCES:
        return "Nothing asked: the weather in use was given by hand. Choose a service first."
    contact = settings.text("contact")
    lines = []
    for source in _sources_of(settings, place):
        found = refresh(store, source, place, now_s, contact=contact, session=session)
        lines.append(_line(source, found, now_s))
        if not found.outside:
            break
    if found.kind in ("fetched", "unchanged") and not settings.text("forecast_source"):
        settings.set("forecast_source", source.id)
    return ". ".join(lines)


def _line(source: Source, found: Outcome, now_s: float) -> str:
    wait = ""
    if found.next_allowed_s is not None and found.next_allowed_s > now_s:
        wait = f"; next in {duration((found.next_allowed_s - now_s) / 3600)}"
    stays = "" if found.forecast is None else "; the last good forecast stays"
    reason = found.reason.removeprefix(source.name).lstrip(": ")
    said = {
        "fetched": "a new forecast",
        "unchanged": "the forecast is unchanged",
        "not due": reason or "not due yet",
        "kept": f"{reason}{stays}",
        "off": reason,
    }[found.kind]
    warnings = "".join(f" ({one})" for one in found.warnings)
    return f"{source.name}: {said}{wait}{warnings}"


def source_views(
    store: Store,
    settings: Settings,
    place: Place | None,
    words: Words,
    now_s: float,
    used: str = "",
) -> tuple[SourceView, ...]:
    """Return every source as it stands: the chosen one, services, what was given by hand.

    `used` is the one the outlook rests on, which counts as chosen where nobody chose.
    """
    at = place or NOWHERE
    chosen = settings.text("forecast_source") or used or source_of(settings, at).id
    services = [_as_set(settings, one) for one in ALL]
    found = [_service(store, settings, one, at, words, now_s) for one in services]
    found += [_own(store, one, at, words, now_s) for one in OWN_SOURCES]
    shown = [one for one in found if one.id not in OWN_SOURCES or one.fetched_s is not None]
    marked = [replace(one, chosen=one.id == chosen) for one in shown]
    return tuple(sorted(marked, key=lambda one: not one.chosen))


def view_of(
    store: Store, settings: Settings, forecast: Forecast, words: Words, now_s: float
) -> SourceView:
    """Return how the source of one forecast stands, also of one that is not in the archive."""
    place = forecast.place
    if forecast.source not in OWN_SOURCES:
        source = _as_set(settings, by_id(forecast.source))
        view = _service(store, settings, source, place, words, now_s)
    else:
        state, text = _standing(forecast, forecast.fetched_s, words, now_s)
        view = SourceView(
            forecast.source, _OWN_NAMES[forecast.source], state, text, forecast.credit
        )
    return replace(_dated(view, forecast), chosen=True)


def _service(
    store: Store, settings: Settings, source: Source, place: Place, words: Words, now_s: float
) -> SourceView:
    kept = archive.latest_kept(store, source.id, place)
    held = _held(store, settings, source, place, now_s)
    forecast, checked_s = (None, None) if kept is None else (kept.forecast, kept.checked_s)
    state, text = _standing(forecast, checked_s, words, now_s)
    if held.last_error:
        state, text = "failed", f"last try failed: {held.last_error}; {text}"
    elif not settings.flag("fetch_forecasts") and forecast is None:
        state, text = "off", "not asked: fetching is off"
    view = SourceView(source.id, source.name, state, text, source.credit,
                      source.terms if source.opt_in else "",
                      next_try_s=held.next_allowed_s or None)  # fmt: skip
    return _dated(view, forecast)


def _held(
    store: Store, settings: Settings, source: Source, place: Place, now_s: float
) -> backoff.State:
    """Return how service and place stand: the last error and when they may be asked again."""
    key = settings.text("openmeteo_key") if source.id == "openmeteo" else ""
    ask = source.requests(place, now_s, key)[0]
    names = (http_state.service(ask, key), http_state.place_name(place))
    states = [http_state.load(store, source.id, name) for name in names]
    return max(states, key=lambda one: (bool(one.last_error), one.next_allowed_s))


def _own(store: Store, source_id: str, place: Place, words: Words, now_s: float) -> SourceView:
    forecast = archive.latest(store, source_id, place)
    state, text = _standing(forecast, forecast.fetched_s if forecast else None, words, now_s)
    credit = "" if forecast is None else forecast.credit
    return _dated(SourceView(source_id, _OWN_NAMES[source_id], state, text, credit), forecast)


def _dated(view: SourceView, forecast: Forecast | None) -> SourceView:
    if forecast is None:
        return view
    return replace(
        view,
        fetched_s=forecast.fetched_s,
        issued_s=forecast.issued_s,
        ends_s=forecast.hourly.end_s,
    )


def _standing(
    forecast: Forecast | None, checked_s: int | None, words: Words, now_s: float
) -> tuple[str, str]:
    """Return the state and the line of a forecast by its age and end."""
    if forecast is None or checked_s is None:
        return "waiting", "no forecast yet"
    end_s = forecast.hourly.end_s
    made_s = forecast.issued_s or forecast.fetched_s
    if end_s <= now_s:
        return "old", f"ended {words.moment(end_s)}: nothing is known after that"
    how = f"made {_ago(now_s - made_s)}"
    if LAID_NOTE in forecast.notes:
        how = "a past year laid onto this one"
    text = f"{how}, reaches to {words.moment(end_s)}"
    old = now_s - checked_s > OLD_S and forecast.source not in OWN_SOURCES
    return ("old", f"{text}; not heard of for {duration((now_s - checked_s) / 3600)}") if old else (
        "fresh", text)  # fmt: skip


def _ago(seconds: float) -> str:
    return "just now" if seconds < 90 else f"{duration(seconds / 3600)} ago"
