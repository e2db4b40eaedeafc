"""An entry a person writes by hand: kept with everything else that the same event changes."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from advisor.base.errors import InputError
from advisor.climate import reading_store
from advisor.planning.job import Laid
from advisor.record.canonical import Json
from advisor.record.entry import Draft, Entry, moment_of
from advisor.record.kinds import kind_of
from advisor.work import instrument_list, kept_events
from advisor.work.film_target import last_thinner_pct, target_fields
from advisor.work.job_header import FROM_JOB
from advisor.work.known import known_of_coat, known_of_values
from advisor.work.moments import refuse_ahead
from advisor.work.reading_entry import from_wet_bulb, reading_draft, reading_of

if TYPE_CHECKING:
    from advisor.work.kept import Kept

#: Fields that are reckoned, not read: nobody types them.
RECKONED = frozenset({"dew_point", "frost_point", "margin", "formula", "flags"})


@dataclass(frozen=True)
class ByHand:
    """What was typed: `data` in the form of its kind, when it happened (UTC seconds), where."""

    kind: str
    data: Mapping[str, Json]
    at_s: float
    area_id: str = ""
    coat_id: str = ""


def keep_by_hand(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    """Keep one entry; InputError says what is missing, and then nothing is kept."""
    kind = kind_of(typed.kind)
    if not kind.by_hand:
        raise InputError(f"{kind.label}: found an entry by hand; accepted: as the program keeps it")
    refuse_ahead(typed.at_s, now_s)
    if kind.of == "coat" and not typed.coat_id and not typed.area_id:
        raise InputError(f"{kind.label}: found no coat; accepted: the coat it is about")
    if not any(typed.data.values()):
        raise InputError(f"{kind.label}: found nothing filled in; accepted: at least one field")
    keepers = {"job": _job, "reading": _reading, "application": _application,
               "preparation": _preparation, "observation": _observation,
               "film": _film}  # fmt: skip
    return keepers.get(kind.key, _plain)(bench, typed, now_s)


def with_instruments(bench: Kept, data: Mapping[str, Json]) -> dict[str, Json]:
    """Return the data with each number naming the one instrument that reads it, if one does."""
    kept = instrument_list.instruments_kept(bench.store)
    film = str(data.get("film", ""))
    found: dict[str, Json] = {}
    for key, value in data.items():
        name = instrument_list.reads_with(kept, film if key == "readings" else key)
        if isinstance(value, list | tuple):
            found[key] = [_named(one, name) for one in value]
        else:
            found[key] = _named(value, name)
    return found


def _named(value: Json, instrument: str) -> Json:
    if isinstance(value, dict) and value.get("source") == "typed" and instrument:
        return {**value, "instrument": instrument}
    return value


def _draft(bench: Kept, typed: ByHand, now_s: float) -> Draft:
    coat = typed.coat_id
    known = known_of_coat(bench, coat, now_s) if coat else known_of_values(bench, now_s)
    data = with_instruments(bench, typed.data)
    return bench.record.draft(typed.kind, data, at_s=typed.at_s, now_s=now_s,
                              area_id=typed.area_id, coat_id=coat, known=known)  # fmt: skip


def _plain(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    draft = _draft(bench, typed, now_s)
    with bench.store.write() as db:
        return bench.record.append(db, draft)


def _job(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    """The program adds areas, coats and products itself."""
    words = {key: str(text) for key, text in typed.data.items() if key not in FROM_JOB}
    entry = bench.record.write_job_header(now_s, words)
    if entry is None:
        raise InputError("Job: found nothing changed; accepted: at least one field")
    return entry


def _reading(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    """The values go where every pane reads them, the dew point is reckoned, digits stay typed."""
    data = {**with_instruments(bench, typed.data), **from_wet_bulb(bench, typed.data)}
    reading = reading_of(data, typed.at_s)
    told = reading_draft(bench, reading, now_s, typed.area_id, {})
    draft = replace(told, data={**told.data, **data}, coat_id=typed.coat_id)
    row = kept_events.typed_row(reading)
    with bench.store.write() as db:
        if row.values():
            reading_store.put_typed(db, row, bench.readings_area)
        return bench.record.append(db, draft)


def _observation(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    """A milestone of a film says which share of the data sheet's time it took."""
    from advisor.work.observing import observation_data

    if typed.coat_id:
        data = observation_data(bench, typed.coat_id, typed.at_s, typed.data)
        typed = replace(typed, data=data)
    return _plain(bench, typed, now_s)


def _film(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    """The film asked for stands beside the readings, where nobody typed another."""
    coat = next((c for c in bench.job_in_hand().coats if c.id == typed.coat_id), None)
    told = {"target_low", "target_high"} & typed.data.keys()
    if coat is not None and not told:
        with suppress(InputError):  # without the product nothing says what was asked
            thinner = last_thinner_pct(bench, coat.id)
            target = target_fields(bench, coat, str(typed.data.get("film", "")), thinner)
            typed = replace(typed, data={**typed.data, **target})
    return _plain(bench, typed, now_s)


def _application(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    """The last patch makes the coat a coat that is on; "not on" takes that back."""
    event, draft = typed.data.get("event"), _draft(bench, typed, now_s)
    if event == "finish":
        first_s = moment_of(typed.data.get("began")) or typed.at_s
        return kept_events.lay_coat(bench, typed.coat_id, Laid(first_s, typed.at_s), draft)
    if event == "not on":
        return kept_events.unlay_coat(bench, typed.coat_id, now_s)
    return _plain(bench, typed, now_s)


def _preparation(bench: Kept, typed: ByHand, now_s: float) -> Entry:
    """It counts from when it was finished."""
    draft = _draft(bench, typed, now_s)
    at_s = moment_of(typed.data.get("finished")) or typed.at_s
    return kept_events.keep_preparation(bench, draft, at_s)
