"""Kills two writers of one record at random moments and looks for what was lost.

    python scripts/kill_test.py [KILLS] [--folder FOLDER] [--seed N]

Each round starts two processes that add entries to the same record and tell each one, once it is
kept, on a pipe. Both are killed with SIGKILL at a random moment. Then every entry that was ever
told must be there with its hash, the chain must hold from the first to the last, the database must
be whole, and every file an entry names must have the bytes its name says. Killing a process says
nothing about power: that the log is synced first is shown by tests/e2e/test_synced_first.py.
"""

from __future__ import annotations

import argparse
import os
import random
import select
import signal
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from advisor.base.attachments import Attachments
from advisor.base.store import Store
from advisor.record import chain
from advisor.record.entry import Draft, quantity
from advisor.record.export import end_line
from advisor.record.verify_record import Checker

JOB, ZONE = "kill", "UTC"
START_S = 1_780_297_200.0
#: A new database after so many kills, so that one is also killed while it is made.
ROUNDS_EACH = 20
#: Longest a pair of writers lives, seconds.
LONGEST_S = 0.2
#: A round without a word from the writers in this time is a fault of its own.
PATIENCE_S = 60.0
Write = Callable[[int], None]


@dataclass
class Seen:
    """What was told over all rounds of one database."""

    told: dict[int, str] = field(default_factory=dict)
    kills: int = 0


def main() -> int:
    """Run the rounds and print what was found; 1 when something was lost."""
    parser = argparse.ArgumentParser(description="Are entries lost when the program is killed?")
    parser.add_argument("kills", type=int, nargs="?", default=500)
    parser.add_argument("--folder", type=Path)
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    if not hasattr(os, "fork"):
        print("kill_test: this system cannot fork; run it on Linux or macOS", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory(dir=given.folder) as folder:
        return run(given.kills, Path(folder), random.Random(given.seed))


def run(kills: int, folder: Path, rng: random.Random) -> int:
    """Kill so often; returns 1 at the first fault found, 0 for none."""
    told = unsaid = 0
    seen, database = Seen(), folder / "0.sqlite3"
    for number in range(kills):
        if number % ROUNDS_EACH == 0:
            seen, database = Seen(), folder / f"{number}.sqlite3"
        before = len(seen.told)
        seen.told |= one_round(database, rng)
        fault, entries = look(database, seen.told)
        if fault:
            print(f"kill {number + 1}: {fault}")
            return 1
        told += len(seen.told) - before
        unsaid += number % ROUNDS_EACH == ROUNDS_EACH - 1 and entries - len(seen.told)
    print(f"{kills} kills of 2 writers: {told} entries told, 0 lost; "
          f"{unsaid} kept and not told yet; every chain holds")  # fmt: skip
    return 0


def one_round(database: Path, rng: random.Random) -> dict[int, str]:
    """Start two writers, kill both at random moments, return the entries they told."""
    pairs = [start(writer(database, f"writer {who}")) for who in (1, 2)]
    until = time.monotonic() + rng.uniform(0.0, LONGEST_S)
    bodies = {pipe: b"" for _, pipe in pairs}
    while (left := until - time.monotonic()) > 0:
        for pipe in select.select(list(bodies), [], [], left)[0]:
            body = os.read(pipe, 65536)
            if not body:
                raise RuntimeError(f"a writer ended by itself: {bodies[pipe][-300:]!r}")
            bodies[pipe] += body
    rng.shuffle(pairs)
    for process, _ in pairs:
        os.kill(process, signal.SIGKILL)
    for process, pipe in pairs:
        bodies[pipe] += drain(pipe)
        os.waitpid(process, 0)
    return {number: entry_hash for body in bodies.values() for number, entry_hash in lines(body)}


def start(write: Write) -> tuple[int, int]:
    """Start a process that writes; returns it and the pipe it tells on."""
    reading, writing = os.pipe()
    process = os.fork()
    if process:
        os.close(writing)
        return process, reading
    try:
        os.close(reading)
        write(writing)
    except BaseException as error:  # told to the parent, which raises it
        os.write(writing, f"! {error!r}\n".encode())
    os._exit(1)


def writer(database: Path, who: str) -> Write:
    """Return what one process does: add entries for ever, telling each when it is kept."""

    def write(pipe: int) -> None:
        store = Store(database, busy_ms=int(PATIENCE_S * 1000))
        files = Attachments(database)
        at = 0
        while True:
            at += 1
            entry = chain.add(store, draft(files, who, at), "kill test")
            os.write(pipe, f"{entry.number} {entry.hash}\n".encode())

    return write


def draft(files: Attachments, who: str, at: int) -> Draft:
    """Return a reading, every fourth time a photo with a file of its own."""
    if at % 4:
        data = {"air_temp": quantity(f"{at % 30}.5", "°C", "typed")}
        return Draft("reading", JOB, START_S + at, START_S + at, ZONE, who, data)
    body = b"\xff\xd8\xff" + os.urandom(2000)
    named = {"file_name": "photo.jpg", "sha256": files.keep_bytes(body), "bytes": str(len(body))}
    return Draft("photo", JOB, START_S + at, START_S + at, ZONE, who, named)


def drain(pipe: int) -> bytes:
    """Read what is left in a pipe whose writer is gone."""
    with os.fdopen(pipe, "rb") as file:
        return file.read()


def lines(body: bytes) -> list[tuple[int, str]]:
    """Return what was told; a line that was cut off was not told."""
    if b"!" in body:
        raise RuntimeError(body[body.index(b"!") :].decode())
    whole = [line.split() for line in body.decode().split("\n")[:-1]]
    return [(int(number), entry_hash) for number, entry_hash in whole]


def look(database: Path, told: dict[int, str]) -> tuple[str, int]:
    """Return what is wrong ("" for nothing) and how many entries are there."""
    if not database.exists() and not told:
        return "", 0  # killed before anything was made
    with Store(database) as store:
        kept = list(chain.lines(store, JOB))
        head = chain.head_of(store, JOB)
        names = [e.data["sha256"] for e in chain.entries(store, JOB, kinds=("photo",))]
    checker = Checker()
    for number, line in enumerate([*kept, end_line(head)], start=1):
        checker.take(number, line + b"\n")
    checker.finish()
    if not checker.result.intact:
        return str(checker.result.problems[0]), len(kept)
    lost = [number for number, entry_hash in told.items() if checker.hash_of(number) != entry_hash]
    if lost:
        return f"entries {lost[:5]} were told and are lost", len(kept)
    gone = [name for name in names if not Attachments(database).intact(str(name))]
    if gone:
        return f"files {gone[:3]} are named and not whole", len(kept)
    return whole(database), len(kept)


def whole(database: Path) -> str:
    """Ask SQLite itself; "" when it finds nothing wrong."""
    with closing(sqlite3.connect(database)) as db:
        found = db.execute("PRAGMA quick_check").fetchone()[0]
    return "" if found == "ok" else f"SQLite: {found}"


if __name__ == "__main__":
    sys.exit(main())
