"""The report as CSV for a spreadsheet: one file each for coats, limits, batches, film, readings.

UTF-8 with its mark and RFC 4180 line ends, so that spreadsheets read the names right. House
units stand in the heads. What is not known is empty. A text that a spreadsheet would take for a
formula gets an apostrophe before it; the record itself has it as it was written.
"""

from __future__ import annotations

import csv
import io
import math
import re
from collections.abc import Iterable, Mapping, Sequence

from advisor.record.effective import value_of
from advisor.record.report.changes import field_of
from advisor.record.report.say import plain, rows_of
from advisor.record.report.told import Told

Cell = str | float | int | None
#: What a text may begin with to be taken for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
_PLAIN_NUMBER = re.compile(r"-?\d+(\.\d+)?")


def csv_files(told: Told) -> Mapping[str, bytes]:
    """Return every file by its name."""
    return {
        "coats.csv": _file(_COATS, _coats(told)),
        "limits.csv": _file(_LIMITS, _limits(told)),
        "batches.csv": _file(_BATCHES, _batches(told)),
        "films.csv": _file(_FILMS, _films(told)),
        "readings.csv": _file(_READINGS, _readings(told)),
        "entries.csv": _file(_ENTRIES, _entries(told)),
        "corrections.csv": _file(_CORRECTIONS, _corrections(told)),
    }


_COATS = ("coat", "name", "area", "product", "revision", "started", "ended", "tack_free",
          "dew_safe", "standing", "summary", "interval_h", "interval_min_h", "interval_max_h",
          "interval_standing", "gaps", "dips", "notes")  # fmt: skip
_LIMITS = ("coat", "rule", "label", "low", "high", "unit", "whose", "phase", "standing", "worst",
           "worst_at", "worst_source", "outside_h", "known_h", "asked_h")  # fmt: skip
_BATCHES = ("coat", "entry", "mixed", "part", "lot", "expiry", "amount", "unit", "usable_until",
            "last_used", "standing", "text")  # fmt: skip
_FILMS = ("coat", "film", "count", "low_um", "mean_um", "high_um", "target_low_um",
          "target_high_um", "standing")  # fmt: skip
_READINGS = ("coat", "time", "air_temp_c", "rh_pct", "dew_point_c", "surface_temp_c", "margin_k",
             "source", "doubtful")  # fmt: skip
_ENTRIES = ("number", "kind", "at", "written", "by", "area", "coat", "field", "label",
            "as_entered", "counts_now", "corrected", "hash")  # fmt: skip
_CORRECTIONS = ("number", "written", "by", "corrects", "field", "was", "now", "reason")


def _coats(told: Told) -> Iterable[Sequence[Cell]]:
    for c in told.review.coats:
        between = c.interval
        yield (c.coat_id, c.coat_name, c.area_name, c.product_name, c.product_revision,
               told.say.iso(c.started_s), told.say.iso(c.ended_s), told.say.iso(c.tack_free_s),
               told.say.iso(c.dew_safe_s), c.standing, c.summary,
               between.clock_h if between else None, between.min_h if between else None,
               between.max_h if between else None, between.standing if between else "",
               "; ".join(told.say.span(span) for span in c.gaps),
               "; ".join(told.say.span(span) for span in c.dips), "; ".join(c.notes))  # fmt: skip


def _limits(told: Told) -> Iterable[Sequence[Cell]]:
    for coat in told.review.coats:
        for found in coat.limits:
            limit = found.limit
            yield (coat.coat_id, limit.rule, limit.label, limit.low, limit.high, limit.unit,
                   limit.whose, found.phase, found.standing, found.worst,
                   told.say.iso(found.worst_at_s), found.worst_source, found.hours_outside,
                   found.hours_known, found.hours_asked)  # fmt: skip


def _batches(told: Told) -> Iterable[Sequence[Cell]]:
    """Yield a row for each component; a batch without any still has its row."""
    for coat in told.review.coats:
        for batch in coat.batches:
            for part in rows_of(told.changes.now(batch.entry).data.get("parts")) or [{}]:
                names = ("part", "batch", "expiry", "value", "unit")
                yield (coat.coat_id, batch.entry.number, told.say.iso(batch.mixed_s),
                       *(str(part.get(name) or "") for name in names),
                       told.say.iso(batch.usable_until_s), told.say.iso(batch.last_used_s),
                       batch.standing, batch.text)  # fmt: skip


def _films(told: Told) -> Iterable[Sequence[Cell]]:
    for coat in told.review.coats:
        for f in coat.films:
            yield (coat.coat_id, f.film, f.count, f.low_um, f.mean_um, f.high_um, *f.target_um,
                   f.standing)  # fmt: skip


def _readings(told: Told) -> Iterable[Sequence[Cell]]:
    for coat in told.review.coats:
        r = coat.readings
        for i in range(len(r.time_s)):
            yield (coat.coat_id, told.say.iso(float(r.time_s[i])), float(r.air_temp_c[i]),
                   float(r.rh_pct[i]), float(r.dew_point_c[i]), float(r.surface_temp_c[i]),
                   float(r.margin_k[i]), r.source[i],
                   "yes" if r.doubtful[i] else "no")  # fmt: skip


def _entries(told: Told) -> Iterable[Sequence[Cell]]:
    """Yield a row for each field of each entry; an entry without fields still has its row."""
    for entry in told.review.entries:
        changes = told.changes.of_entry(entry.number)
        now = told.changes.now(entry)
        head = (entry.number, entry.kind, told.say.iso(entry.at_s), told.say.iso(entry.written_s),
                entry.by, entry.area_id, entry.coat_id)  # fmt: skip
        for key in dict.fromkeys((*entry.data, *(c.field for c in changes))) or ("",):
            by = ", ".join(f"No {c.number}" for c in changes if c.field in (key, "entry"))
            yield (*head, key, field_of(entry.kind, key).label, plain(value_of(entry, key)),
                   plain(value_of(now, key)), by, entry.hash)  # fmt: skip


def _corrections(told: Told) -> Iterable[Sequence[Cell]]:
    for entry in told.review.entries:
        if entry.kind == "correction":
            for row in rows_of(entry.data.get("values")):
                yield (entry.number, told.say.iso(entry.written_s), entry.by,
                       str(entry.data.get("corrects", "")), str(row.get("field", "")),
                       plain(row.get("was")), plain(row.get("now")),
                       str(entry.data.get("reason", "")))  # fmt: skip


def _file(head: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    kept = io.StringIO()
    writer = csv.writer(kept)
    writer.writerow(head)
    writer.writerows([_shown(value) for value in row] for row in rows)
    return kept.getvalue().encode("utf-8-sig")


def _shown(value: Cell) -> str:
    if isinstance(value, float):
        return f"{round(value, 4):g}" if math.isfinite(value) else ""
    text = "" if value is None else str(value)
    risky = text[:1] in _FORMULA and not _PLAIN_NUMBER.fullmatch(text)
    return f"'{text}" if risky else text
