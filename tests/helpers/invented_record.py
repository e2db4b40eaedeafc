"""An invented record with every kind of entry and every kind of field. All of it is made up."""

from __future__ import annotations

import itertools
from pathlib import Path

from advisor.base.attachments import Attachments
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.canonical import Json
from advisor.record.entry import Draft, Entry, quantity
from advisor.record.kinds import KINDS, Field, Kind
from advisor.record.signing import SigningKey, signed

JOB, ZONE, APP = "dunlin", "Europe/London", "9.9"
#: 2026-06-01 07:00 UTC, a Monday.
START_S = 1_780_297_200
LOG = b"time,air_temp_c\n" + b"".join(b"2026-06-01T%02d:00Z,1%d.5\n" % (h, h) for h in range(10))
KNOWN: dict[str, Json] = {
    "product": {"id": "gloss-2k", "name": "Invented gloss", "revision": "3"},
    "limits": [{"rule": "humidity", "label": "Humidity", "low": "", "high": "85", "unit": "%",
                "whose": "data sheet"}],
    "verdict": "go",
    "shown": "Go, until 14:20",
}  # fmt: skip


def fill(
    store: Store, entries: int, key: SigningKey | None = None, signs: tuple[int, ...] = ()
) -> tuple[Entry, ...]:
    """Keep that many entries of all kinds in turn; those numbered in `signs` are signed."""
    files = Attachments(store.path)
    hashes = {"photo": files.keep_bytes(b"\xff\xd8\xff an invented photo"),
              "import": files.keep_bytes(LOG)}  # fmt: skip
    kinds = itertools.cycle(kind for kind in KINDS.values() if kind.key != "sign-off")
    found: list[Entry] = []
    with store.write() as db:
        for number in range(1, entries + 1):
            kind = KINDS["sign-off"] if number in signs else next(kinds)
            draft = _draft(kind, number, found, hashes)
            if number in signs and key is not None:
                draft = signed(draft, key, chain.head(db, JOB), APP)
            found.append(chain.append(db, draft, APP))
    return tuple(found)


def store_with(path: Path, entries: int, key: SigningKey | None = None) -> Store:
    """Return a store with a record, its entry before last signed where there is a key."""
    store = Store(path)
    fill(store, entries, key, (entries - 1,))
    return store


def _draft(kind: Kind, number: int, before: list[Entry], hashes: dict[str, str]) -> Draft:
    data: dict[str, Json] = {field.key: _value(field, number) for field in kind.fields}
    if kind.key == "correction":
        target = before[-1]
        data |= {"corrects": str(target.number), "corrects_hash": target.hash}
        data["values"] = [{"field": "text", "was": "a", "now": "b"}]
    if kind.key == "sign-off":
        del data["public_key"], data["signature"]
    if kind.key in hashes:
        data |= {"sha256": hashes[kind.key], "file_name": f"{kind.key}.jpg"}
    if kind.key == "import":
        data |= {"file_name": "shed.csv", "blocks": _blocks()}
    at_s = START_S + 600.0 * number
    return Draft(kind.key, JOB, at_s, at_s + 30, ZONE, "A. Painter", data, "hull", "gloss", KNOWN)


def _blocks() -> list[Json]:
    from hashlib import sha256

    lines = LOG.splitlines(keepends=True)
    return [
        {"first_line": str(first + 1), "lines": "4",
         "sha256": sha256(b"".join(lines[first : first + 4])).hexdigest()}
        for first in (1, 5)
    ]  # fmt: skip


def _value(field: Field, number: int) -> Json:
    if field.type == "quantity":
        return quantity(f"{number % 30}.50", field.unit or "L", "typed", "probe")
    if field.type == "quantities":
        return [quantity(str(100 + number + i), field.unit, "typed") for i in range(3)]
    if field.type == "rows":
        return [{key: f"{key} {number}" for key in field.keys}]
    if field.type == "moment":
        return "2026-06-01T08:00:00+01:00"
    if field.type == "yes_no":
        return "yes"
    return field.choices[number % len(field.choices)] if field.choices else f'Ωil "{number}" é😀'
