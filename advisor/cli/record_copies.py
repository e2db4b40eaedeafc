"""`advisor record backup|restore|rescue`: copies, and what to do when the database is damaged.

`restore` and `rescue` are for a database that can no longer be opened: neither needs it to be.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

from advisor.base.attachments import Attachments
from advisor.base.backup import (
    Backup,
    content_of,
    content_words,
    go_back,
    go_back_closed,
    heal_files,
    is_broken,
    why_damaged,
)
from advisor.base.counting import counted
from advisor.base.errors import InputError, StoreError
from advisor.base.store import Store
from advisor.cli.printing import iso, write_json, write_list
from advisor.cli.record import database_of, opened
from advisor.cli.request import Call

#: What each table is to a painter.
_TOLD = MappingProxyType({
    "entry": "entries of the record", "job": "jobs", "reading": "readings",
    "product": "products of your own", "event": "things noted at the bench",
    "import": "imported files", "forecast": "forecasts", "setting": "settings",
})  # fmt: skip
_ALWAYS = ("entry", "job", "reading")


def backup(call: Call) -> int:
    """Make a copy, or list those there are; of a database past opening, list those beside it."""
    made, found = (None, _listed(call)) if call.options.list else _made(call)
    zone = call.zone
    if call.options.json:
        write_json(call.out, {"backups": [{"file": str(b.path), "made": iso(b.made_s, zone),
                                           "holds": content_words(b.path), "broken": b.broken}
                                          for b in found]})  # fmt: skip
    elif made is None:
        write_list(call.out, f"{counted(len(found), 'copy', 'copies')}:",
                   tuple(f"{iso(b.made_s, zone)}  {content_words(b.path)}  {b.path}"
                         for b in found))  # fmt: skip
    else:
        how = "as it is, a record in it is broken" if is_broken(made) else "and verified"
        call.out.write(f"Copied {how}: {made}\n")
    return 0


def restore(call: Call) -> int:
    """Go back to a copy, also where the database cannot be opened any more."""
    database, file = database_of(call), call.options.file
    if not file.is_file():
        raise InputError(f"{file}: found no such file; accepted: a copy this program made")
    was, now = content_of(database) if database.is_file() else None, content_of(file)
    before = _gone_back(database, file, call.now_s)
    if call.options.json:
        write_json(call.out, {"restored": str(file), "before": str(before) if before else None,
                              "holds": now.words() if now else None,
                              "held": was.words() if was else None})  # fmt: skip
    else:
        call.out.write(f"Gone back to {file}\n")
        held = "what was there could not be read" if was is None else f"before: {was.words()}"
        call.out.write(f"It holds {content_words(file)} ({held}).\n")
        if was and now and now.entries < was.entries:
            held = counted(was.entries, "entry", "entries")
            call.out.write(f"The record goes from {held} to {now.entries}.\n")
        if before is not None:
            call.out.write(f"What was there before is kept in {before}\n")
    return 0


def rescue(call: Call) -> int:
    """Read all that can be read of a damaged database into a new one; the old one is only read."""
    from advisor.base.rescue import rescue as save

    damaged, new = call.options.damaged, call.options.new
    saved = save(damaged, new)
    _refuse_nothing(saved.rows, damaged, new)
    heal_files(Attachments(damaged), Attachments(new))  # a photo lies beside its database
    with Store(new) as store:
        broken = _broken_records(store)
    if call.options.json:
        write_json(call.out, {"saved": str(new), "rows": dict(saved.rows),
                              "torn": list(saved.torn), "records": list(broken)})  # fmt: skip
        return 0
    call.out.write(f"Saved into {new}; {damaged} is as it was.\n")
    told = (f"{what}: {count}" for table, what in _TOLD.items()
            if (count := saved.rows.get(table, 0)) or table in _ALWAYS)  # fmt: skip
    write_list(call.out, "Saved:", tuple(told))
    torn = tuple(dict.fromkeys(_TOLD.get(table, "what the program needs") for table in saved.torn))
    write_list(call.out, "Not whole, some are missing:", torn)
    write_list(call.out, "Records with entries missing:", broken)
    if not saved.torn and not broken:
        call.out.write("Nothing was found missing.\n")
    return 0


# --- inner -----------------------------------------------------------------------------------


def _made(call: Call) -> tuple[Path, tuple[Backup, ...]]:
    with opened(call) as bench:
        return bench.guard.backup(call.now_s), bench.guard.backups()


def _listed(call: Call) -> tuple[Backup, ...]:
    """List the copies; of a database that cannot be opened, those in the folders still known."""
    from advisor.work.guard import known_backups

    try:
        with opened(call) as bench:
            return bench.guard.backups()
    except (InputError, StoreError, sqlite3.DatabaseError):
        return known_backups(database_of(call))


def _gone_back(database: Path, file: Path, now_s: float) -> Path | None:
    if database.is_file() and not why_damaged(database):
        with Store(database) as store:
            return go_back(store, file, now_s)
    return go_back_closed(database, file, now_s)


def _refuse_nothing(rows: Mapping[str, int], damaged: Path, new: Path) -> None:
    """InputError where neither entry nor job was read; readings saved all the same stay."""
    from advisor.base.rescue import take_away

    if rows.get("entry") or rows.get("job"):
        return
    readings = rows.get("reading", 0)
    if readings:
        stays = f"{counted(readings, 'reading')} kept in {new}"
    else:
        stays = "nothing was written"
        take_away(new)
    raise InputError(
        f"{damaged}: no entry and no job could be read, {stays}; "
        "accepted: a database with a job. Go back to a copy (advisor record restore)"
    )


def _broken_records(store: Store) -> tuple[str, ...]:
    from advisor.record import chain
    from advisor.record.canonical import NO_HASH

    with store.read() as db:
        jobs = [row[0] for row in db.execute("SELECT DISTINCT job_id FROM entry ORDER BY job_id")]
    found = []
    for job_id in jobs:
        kept, before = chain.entries(store, job_id), NO_HASH
        for place, entry in enumerate(kept, 1):
            if entry.number != place or entry.previous != before:
                held = counted(len(kept), "entry", "entries")
                found.append(f"{job_id}: {held}, the first gap before {entry.number}")
                break
            before = entry.hash
    return tuple(found)
