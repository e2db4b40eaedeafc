"""The shop's instruments: serial numbers, calibration, and which one a value was read with."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import asdict, dataclass
from datetime import date, datetime
from types import MappingProxyType
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from advisor.base.errors import RangeError
from advisor.base.store import Store
from advisor.record.canonical import Json

if TYPE_CHECKING:
    from advisor.record.entry import Entry
    from advisor.work.kept import Kept

#: What an instrument that measures this reads, by the names of a reading's fields.
READS = MappingProxyType(
    {
        "air and humidity": ("air_temp", "rh", "wet_bulb"),
        "surface": ("surface_temp", "surface_hot"),
        "material": ("material_temp", "mix_temp"),
        "wet film": ("wet",),
        "dry film": ("dry",),
        "moisture": ("moisture",),
    }
)


@dataclass(frozen=True)
class Instrument:
    """One instrument. `id` is its short name; dates as YYYY-MM-DD, empty where not known."""

    id: str
    measures: str = ""
    type: str = ""
    serial: str = ""
    calibrated: str = ""
    due: str = ""
    accuracy: str = ""
    range: str = ""
    field_check: str = ""
    position: str = ""

    def out_of_date(self, at_s: float, zone: str) -> bool:
        """Whether its calibration was due before that day in the shop's zone."""
        return bool(self.due) and date.fromisoformat(self.due) < _day(at_s, zone)


def instruments_kept(store: Store) -> tuple[Instrument, ...]:
    """Return every instrument, by short name."""
    with store.read() as db:
        rows = db.execute("SELECT json FROM instrument ORDER BY id").fetchall()
    return tuple(Instrument(**json.loads(text)) for (text,) in rows)


def keep_instrument(bench: Kept, instrument: Instrument, now_s: float) -> Entry:
    """Keep an instrument, new or changed, and its entry in the record; RangeError for a bad date.

    Entries kept before go on saying what was known of it then.
    """
    for name in ("calibrated", "due"):
        _check_day(name, getattr(instrument, name))
    data: dict[str, Json] = {key: text for key, text in asdict(instrument).items() if text}
    draft = bench.record.draft("instrument", data, at_s=now_s, now_s=now_s)
    with bench.store.write() as db:
        _put(db, instrument)
        return bench.record.append(db, draft)


def remove_instrument(store: Store, instrument_id: str) -> None:
    """Take an instrument off the list; its entries stay in the record."""
    with store.write() as db:
        db.execute("DELETE FROM instrument WHERE id = ?", (instrument_id,))


def reads_with(kept: tuple[Instrument, ...], field: str) -> str:
    """Return the short name of the one instrument that reads a field, empty where none or two."""
    fit = [one.id for one in kept if field in READS.get(one.measures, ())]
    return fit[0] if len(fit) == 1 else ""


def as_known(kept: tuple[Instrument, ...], at_s: float, zone: str) -> list[dict[str, Json]]:
    """Return what is known of the instruments, in the form of an entry's `known`."""
    return [
        {
            "id": one.id,
            "measures": one.measures,
            "serial": one.serial,
            "accuracy": one.accuracy,
            "calibrated": one.calibrated,
            "due": one.due,
            "out_of_date": "yes" if one.out_of_date(at_s, zone) else "no",
        }
        for one in kept
    ]


def _put(db: sqlite3.Connection, instrument: Instrument) -> None:
    db.execute(
        "INSERT OR REPLACE INTO instrument (id, json) VALUES (?, ?)",
        (instrument.id, json.dumps(asdict(instrument), ensure_ascii=False)),
    )


def _check_day(name: str, text: str) -> None:
    if not text:
        return
    try:
        date.fromisoformat(text)
    except ValueError as error:
        raise RangeError(name, repr(text), "a day such as 2026-05-31, or empty") from error


def _day(at_s: float, zone: str) -> date:
    return datetime.fromtimestamp(at_s, ZoneInfo(zone)).date()
