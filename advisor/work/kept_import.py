"""A file of readings in the record: the file by its hash, and one entry with hashes of its rows.

A block is so many lines of the file, each with its line end (LF); the verifier needs no more to
say in which lines a file was altered.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.base.attachments import Attachments
from advisor.base.errors import AdvisorError
from advisor.climate import reading_store
from advisor.record.canonical import Json
from advisor.record.entry import Draft, iso

if TYPE_CHECKING:
    from advisor.climate.readings import ImportedFile
    from advisor.work.kept import Kept

#: Lines of a block; more where a file would have over `MOST_BLOCKS` of them.
BLOCK_LINES, MOST_BLOCKS = 1000, 1000


def row_blocks(path: Path) -> list[Mapping[str, Json]]:
    """Return the blocks of a file: first line (from 1), number of lines, SHA-256 of their bytes."""
    with path.open("rb") as file:
        lines = sum(1 for _ in file)
    each = max(BLOCK_LINES, -(-lines // MOST_BLOCKS))
    blocks: list[Mapping[str, Json]] = []
    with path.open("rb") as file:
        for first in range(1, lines + 1, each):
            digest, count = hashlib.sha256(), 0
            for line in file:
                digest.update(line)
                count += 1
                if count == each:
                    break
            blocks.append({"first_line": str(first), "lines": str(count),
                           "sha256": digest.hexdigest()})  # fmt: skip
    return blocks


def keep_import(
    bench: Kept, imported: ImportedFile, file_name: str, now_s: float, path: Path | None = None
) -> int:
    """Keep an imported file and its entry in one transaction; returns rows added.

    `path` is the file itself, which is kept by its hash; it must still be the one that was read.
    Without a job in hand there is no record, and the readings alone are kept. Raises as
    `reading_store.save_import`.
    """
    area, store = bench.readings_area, bench.store
    known = reading_store.known_import(store, reading_store.import_key(imported))
    if known is not None or bench.job() is None:
        return reading_store.save_import(store, imported, file_name, int(now_s), area)
    kept = _kept_file(bench, imported, path)
    draft = _draft(bench, imported, file_name, now_s, kept)
    with store.write() as db:
        added = reading_store.put_import(db, imported, file_name, int(now_s), area)
        if added is not None:
            bench.record.append(db, draft)
    return added or 0


def _kept_file(bench: Kept, imported: ImportedFile, path: Path | None) -> Path | None:
    """Keep the file itself; None where it is not at hand or no longer the one read."""
    if path is None:
        return None
    attachments = Attachments(bench.store.path)
    try:
        sha256 = attachments.keep(path)
    except AdvisorError:
        return None
    return attachments.path(sha256) if sha256 == imported.report.file_sha256 else None


def _draft(
    bench: Kept, imported: ImportedFile, file_name: str, now_s: float, kept: Path | None
) -> Draft:
    report, zone = imported.report, bench.job_in_hand().time_zone
    data: dict[str, Json] = {
        "file_name": file_name,
        "sha256": reading_store.import_key(imported),
        "source": imported.table.origin.value,
        "rows_read": str(report.rows_read),
        "rows_used": str(report.rows_used),
        "rows_dropped": str(report.rows_dropped),
        "rows_flagged": str(report.flagged),
        "columns": "; ".join(f"{name}: {words}" for name, words in report.mapping.items()),
    }
    times = imported.table.time_s
    if len(times):
        data |= {"first": iso(float(times[0]), zone), "last": iso(float(times[-1]), zone)}
    if kept is not None:
        data |= {"bytes": str(kept.stat().st_size), "blocks": row_blocks(kept)}
    return bench.record.draft("import", data, at_s=now_s, now_s=now_s)
